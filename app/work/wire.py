"""How jobs travel between the window and its worker processes: big things once, by name; the rest pickled.

A mesh, and a part with all that it has worked out about itself, is written once as plain array files into a folder
that both sides see, and mapped into memory by the other side. After that only its token travels.
"""

from __future__ import annotations

import contextlib
import io
import pickle
import uuid
import weakref
from pathlib import Path
from typing import Any

import numpy as np

from core.diagnose.sacrificial import Split
from core.geometry.mesh import Mesh
from core.geometry.part import Part

#: Arrays above this many bytes travel as files.
LARGE = 1 << 20


class Locker:
    """Tokens for meshes, parts and splits, on one side of the wire. ``folder`` is shared by both sides."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._tokens: weakref.WeakKeyDictionary[Any, str] = weakref.WeakKeyDictionary()
        self._known: dict[str, Any] = {}

    def token(self, thing: Mesh | Part | Split) -> str:
        """The name of a mesh, part or split, written down for the other side the first time."""
        if thing not in self._tokens:
            name = uuid.uuid4().hex
            if isinstance(thing, Mesh):
                np.save(self.folder / f"{name}.v.npy", thing.vertices)
                np.save(self.folder / f"{name}.t.npy", thing.triangles)
            elif isinstance(thing, Split):
                few = np.min_scalar_type(int(thing.label.max(initial=0)))
                np.save(self.folder / f"{name}.l.npy", thing.label.astype(few))
                (self.folder / f"{name}.split").write_bytes(pickle.dumps(thing.pieces))
            else:
                (self.folder / f"{name}.part").write_bytes(self._pickled(_bare(thing)))
            self._tokens[thing] = name
            self._known[name] = weakref.ref(thing)
        return self._tokens[thing]

    def thing(self, kind: str, name: str) -> Mesh | Part | Split:
        """The thing of that name; taken from the folder the first time, kept from then on."""
        kept = self._known.get(name)
        kept = kept() if isinstance(kept, weakref.ref) else kept
        if kept is None:
            if kind == "mesh":
                kept = Mesh(
                    np.load(self.folder / f"{name}.v.npy", mmap_mode="r"),
                    np.load(self.folder / f"{name}.t.npy", mmap_mode="r"),
                )
            elif kind == "split":
                pieces = pickle.loads((self.folder / f"{name}.split").read_bytes())
                kept = Split(pieces, np.load(self.folder / f"{name}.l.npy").astype(np.int64))
            else:
                kept = Part(**self.loads((self.folder / f"{name}.part").read_bytes()))
            self._known[name] = weakref.ref(kept) if kind == "split" else kept  # every inspection makes a new split
            self._tokens[kept] = name
        return kept

    def put_array(self, array: np.ndarray) -> str:
        """Write a large array for the other side, which takes it exactly once."""
        name = uuid.uuid4().hex
        np.save(self.folder / f"{name}.a.npy", array)
        return name

    def take_array(self, name: str) -> np.ndarray:
        """The array of that name, mapped; its file goes as soon as the system lets it."""
        path = self.folder / f"{name}.a.npy"
        out = np.load(path, mmap_mode="r")
        with contextlib.suppress(OSError):
            path.unlink()
        return out

    def dumps(self, message: object) -> bytes:
        """A message in bytes, meshes and parts replaced by their tokens."""
        return self._pickled(message)

    def loads(self, data: bytes) -> Any:
        """The message again."""
        return _Reader(io.BytesIO(data), self).load()

    def _pickled(self, message: object) -> bytes:
        out = io.BytesIO()
        _Writer(out, self).dump(message)
        return out.getvalue()


def _bare(part: Part) -> dict[str, Any]:
    """A part's own fields, without what it has worked out."""
    return {name: part.__dict__[name] for name in part.__dataclass_fields__}


class _Writer(pickle.Pickler):
    def __init__(self, out: io.BytesIO, locker: Locker) -> None:
        super().__init__(out, protocol=5)
        self._locker = locker

    def persistent_id(self, thing: object) -> tuple[str, str] | None:
        if isinstance(thing, Part):
            return "part", self._locker.token(thing)
        if isinstance(thing, Split):
            return "split", self._locker.token(thing)
        if isinstance(thing, Mesh) and len(thing.triangles) > 1000:
            return "mesh", self._locker.token(thing)
        if isinstance(thing, np.ndarray) and thing.nbytes > LARGE and thing.dtype != object:
            return "array", self._locker.put_array(thing)
        return None


class _Reader(pickle.Unpickler):
    def __init__(self, data: io.BytesIO, locker: Locker) -> None:
        super().__init__(data)
        self._locker = locker

    def persistent_load(self, pid: tuple[str, str]) -> Mesh | Part | Split | np.ndarray:
        kind, name = pid
        return self._locker.take_array(name) if kind == "array" else self._locker.thing(kind, name)
