"""What the coverage-guided fuzzer runs: one format, read and patched, with everything that must hold.

``python -m tests.files.fuzz_target FORMAT FOLDER [libFuzzer options]``; needs atheris (libFuzzer for Python).
The corpus in FOLDER begins with every file of the table of odd and hostile files.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

try:
    import atheris
except ImportError:  # then only the table itself is run
    atheris = None

with atheris.instrument_imports(include=["core.files", "core.geometry.weld"]) if atheris else contextlib.nullcontext():
    from core.errors import NeedsChoice, SnapcombError
    from core.files import obj, ply, ply_patch, stl, stl_text, threemf, threemf_patch
    from core.files.content import Added, Content
    from core.files.guard import DEFAULT, HEAD, sniff
    from core.files.safe_write import Region

from tests.files.build import TETRA, TETRA_FACES, package

#: The first word picks the table of cases, the others the seeds within it by their first bytes.
FORMATS = {
    "stl": (".stl", None),
    "stl-text": (".stl", b"solid"),
    "obj": (".obj", None),
    "ply-text": (".ply", b"ply\nformat ascii"),
    "ply-binary": (".ply", b"ply\nformat binary"),
    "3mf": (".3mf", None),
}
#: Small enough that an input cannot make the machine slow by being right; still far above what fits in an input.
LIMITS = replace(
    DEFAULT, inflated_bytes=1 << 22, ratio_from_bytes=1 << 20, triangles=100_000, instances=300, xml_elements=20_000
)
MOST_BYTES = 6000
ADDED = Added(TETRA + np.float64([30, 0, 0]), TETRA_FACES)
READERS = {"stl": stl.read, "stl text": stl_text.read, "obj": obj.read, "ply": ply.read, "3mf": threemf.read}
PATCHERS = {"stl text": stl_text.patched, "obj": obj.patched, "ply": ply_patch.patched}
#: A first byte of this kind means: what follows is the model of a package, which a mutated archive hardly ever reaches.
MODEL = 0x01


def seeds(name: str) -> list[bytes]:
    """The files of the table that belong to a format, and for 3MF the models in them."""
    from tests.files import hostile_3mf, hostile_obj, hostile_ply, hostile_stl

    suffix, begin = FORMATS[name]
    tables = {".stl": hostile_stl, ".obj": hostile_obj, ".ply": hostile_ply, ".3mf": hostile_3mf}
    out = [d for c in tables[suffix].CASES if len(d := c.data()) <= MOST_BYTES and (begin is None or begin in d[:40])]
    if name == "3mf":
        out = [b"\0" + data for data in out] + [bytes([MODEL]) + text for text in map(_model_of, out) if text]
    return out


def _model_of(data: bytes) -> bytes:
    with contextlib.suppress(Exception):
        opened = threemf.open_package(data, LIMITS)
        return opened.model(opened.root).text
    return b""


def one_input(name: str, data: bytes) -> None:
    """Every answer is a mesh that makes sense, a question, or a refusal; a patched file holds what it did and more."""
    suffix = FORMATS[name][0]
    if name == "3mf":
        kind, data = data[:1], data[1:]
        data = package(model=data) if kind == bytes([MODEL]) else data
    choices: list[str | None] = [None]
    for choice in choices:
        try:
            form = sniff(data[:HEAD], suffix, len(data))
            content = READERS[form](data, choice, LIMITS)
        except NeedsChoice as question:
            assert choice is None, "asked again after an answer"
            choices += question.choices
        except SnapcombError as refusal:
            assert str(refusal).strip()  # noqa: PT017 - any may come, or none
        else:
            vet(content)
            patch(form, data, choice, content)


def vet(content: Content) -> None:
    """The mesh is one: something, finite, in range, and every facet has three corners."""
    triangles = content.triangles
    assert len(triangles)
    assert triangles.min() >= 0
    assert triangles.max() < len(content.vertices)
    assert np.isfinite(content.vertices).all()
    a, b, c = triangles.T
    assert ((a != b) & (b != c) & (c != a)).all()


def patch(form: str, data: bytes, choice: str | None, content: Content) -> None:
    """The patched file reads back with the facets that were there, in their order, and the new ones."""
    try:
        after = _patched(form, data, choice)
    except SnapcombError as refusal:
        assert str(refusal).strip()  # noqa: PT017 - any may come, or none
        return
    if form == "3mf":  # teeth may be in an object that stands in several places
        assert len(after.triangles) >= len(content.triangles) + len(ADDED.triangles)
        return
    assert len(after.triangles) == len(content.triangles) + len(ADDED.triangles)
    there = after.vertices[after.triangles[: len(content.triangles)]]
    assert np.array_equal(there, content.vertices[content.triangles])


def _patched(form: str, data: bytes, choice: str | None) -> Content:
    if form == "stl":
        path = Path(_folder()) / "hood.stl"
        path.write_bytes(data)
        pieces = stl.patched(path, data[: stl.HEAD], len(data), ADDED, choice, hashlib.sha256())
        whole = b"".join(path.read_bytes()[p.begin : p.end] if isinstance(p, Region) else bytes(p) for p in pieces)
        return stl.read(whole, None, LIMITS)
    if form == "3mf":
        done = threemf_patch.patched(data, ADDED, "all", choice)
        return threemf.read(b"".join(map(bytes, done.pieces)), choice, LIMITS)
    whole = b"".join(map(bytes, PATCHERS[form](data, ADDED, choice)))
    return READERS[form](whole, choice, LIMITS)


_FOLDERS: list[str] = []


def _folder() -> str:
    if not _FOLDERS:
        memory = "/dev/shm"  # a hundred thousand files on a disk would only wear it
        _FOLDERS.append(tempfile.mkdtemp(prefix="snapcomb-fuzz-", dir=memory if os.path.isdir(memory) else None))
    return _FOLDERS[0]


def main() -> None:
    """Fill the corpus, then run."""
    name, folder, *options = sys.argv[1:]
    corpus = Path(folder)
    corpus.mkdir(parents=True, exist_ok=True)
    for data in seeds(name):
        (corpus / hashlib.sha1(data).hexdigest()).write_bytes(data)
    arguments = [sys.argv[0], str(corpus), f"-max_len={MOST_BYTES + 2000}", *options]
    atheris.Setup(arguments, lambda data: one_input(name, data))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
