"""Build the sample files and the truth about them: ``python -m samples.make [FOLDER]``.

The same figures give the same bytes. Without a folder the files beside this script are written anew.
"""

from __future__ import annotations

import json
import re
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

from samples.catalogue import everything
from samples.record import SETUP, as_record
from samples.solids import write_stl


def _readable(data: dict[str, Any]) -> str:
    """JSON with every list of numbers on one line."""
    text = json.dumps(data, indent=1, ensure_ascii=False)
    return re.sub(r"\[\s+([-+\d.e,\s]+?)\s+\]", lambda m: "[" + " ".join(m[1].split()) + "]", text) + "\n"


def make(folder: Path) -> list[Path]:
    """Write every sample and ``truth.json`` into a folder; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    truth: dict[str, Any] = {
        "about": "Points are file coordinates in mm, heights are above the bed, angles from vertical.",
        "made_with": {name: version(name) for name in ("manifold3d", "numpy")},
        "setup": SETUP,
        "samples": {},
    }
    for sample in everything():
        path = folder / sample.file
        write_stl(path, sample.corners())
        truth["samples"][sample.name] = as_record(sample)
        written.append(path)
    path = folder / "truth.json"
    path.write_text(_readable(truth), encoding="utf-8")
    return [*written, path]


if __name__ == "__main__":
    for made in make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent):
        print(made)
