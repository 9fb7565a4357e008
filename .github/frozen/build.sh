#!/usr/bin/env bash
# Build the program into one folder: .github/frozen/build.sh [FOLDER]. FOLDER/snapcomb/snapcomb then starts it on any
# machine of the same kind, without Python; the system libraries that the README names are still needed.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
out=$(realpath -m "${1:-dist}")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

python3 -m venv "$work/venv"
"$work/venv/bin/pip" install -q "$here/../.." 'pyinstaller>=6.10'
cd "$here"
"$work/venv/bin/pyinstaller" --noconfirm --distpath "$out" --workpath "$work/build" snapcomb.spec
"$out/snapcomb/snapcomb" --version
