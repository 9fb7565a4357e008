"""Teeth into a 3MF package: text spliced into one object's mesh, everything else left byte for byte.

The teeth come in plate coordinates; the inverse of all transforms on the way takes them into the object's own frame,
and where those mirror, the triangles are turned over, so that they are outward again once they are placed.
"""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from typing import Final

import numpy as np

from core.errors import NeedsChoice, RefusedFile, UnreadableFile, WriteFailed
from core.files.content import Added, counted
from core.files.guard import DEFAULT, quoted
from core.files.nearest import nearness
from core.files.threemf import Instance, Package, instances, open_package
from core.files.threemf_model import PRODUCTION, Model, Object3, tag_at
from core.files.zip_parts import part_key
from core.files.zip_rebuild import rebuilt
from core.geometry.mesh import F64, I32
from core.units import MM_PER, UnitName

ALL: Final = "all"
COPY: Final = "copy"
NEAREST: Final = "nearest"
OBJECT: Final = "object:"
"""Words of a choice; the last goes on with the number of an object."""

TOUCH_MM: Final = 0.5
"""An object nearer than this to a corner of the teeth is touched by them, mm: they sink into it by a layer or less."""

Edit = tuple[int, int, bytes]
"""Replace the bytes from one offset to another by new ones."""

_ROUNDING: Final = 1e-9
"""Largest error of a tooth's corner through inverse and forward transform, relative to its coordinates: float64
keeps sixteen digits, and a transform that loses seven of them is hardly one to print."""


@dataclass(frozen=True, eq=False)
class Patch:
    """The new package in pieces; how many triangles the plate held ``before`` and gains; where the teeth went; and the
    runs of vertices and triangles that need no second look when the result is read back."""

    pieces: list[bytes | memoryview]
    before: int
    gain: int
    note: str
    runs: tuple[bytes, ...]


def patched(data: bytes, added: Added, choice: str | None = None, read_choice: str | None = None) -> Patch:
    """The package with facets in the mesh of the object that they touch; ``added`` in plate coordinates, model units.

    ``choice``: "all" or "copy" for an object that is placed more than once; "object:5" names the object, "nearest" is
    the one that they are nearest to, and "object:5+copy" says both. Raises NeedsChoice, also where the teeth touch
    several objects; RefusedFile for signed packages and slice stacks, and what reading raises.
    """
    package = open_package(data, DEFAULT)
    found = instances(package, read_choice)
    _vet(package)
    words = (choice or "").split("+")
    target = _target(found, added, words, MM_PER[_unit(package)])
    same = [i for i in found if i.owner is target.owner]
    if len(same) > 1 and not {ALL, COPY} & set(words):
        raise NeedsChoice(
            f"Object {_named(target.owner)} is placed {len(same)} times.",
            "Put the teeth on all of them, or make a copy of the object for this one.",
            (ALL, COPY),
        )
    copy = len(same) > 1 and COPY in words
    edits = _copied(package, found, target, added) if copy else {target.path: _spliced(target, package, added)}
    changed = {package.entry(path).name: _stored(package.model(path), edit) for path, edit in edits.items()}
    gain = len(added.triangles) * (1 if copy else len(same))
    name = _named(target.owner)
    note = f"The teeth are in a copy of object {name}." if copy else f"The teeth are in object {name}."
    before = sum(i.mesh.triangle_count for i in found)
    return Patch(rebuilt(package.archive, changed), before, gain, note, package.longest_runs())


def _named(owner: Object3) -> str:
    return f"{owner.id} ({quoted(owner.name)})" if owner.name else str(owner.id)


def _vet(package: Package) -> None:
    """Refuse what a changed mesh would make untrue."""
    step = "Write the part to a new STL or 3MF file instead."
    if package.signed:
        raise RefusedFile("The package is signed; a changed model would break the signature.", step)
    if any(model.slices for model in package.models.values()):
        raise RefusedFile("The package holds ready slices (slice stacks), which would lack the teeth.", step)


def _unit(package: Package) -> UnitName:
    unit = package.model(package.root).unit or "millimeter"
    return next(u for u in MM_PER if u == unit)


def _target(found: list[Instance], added: Added, words: list[str], mm_per_unit: float) -> Instance:
    """The placed object that the teeth belong to: the named one, else the only one that they touch, or are nearest to.

    Raises NeedsChoice where they touch several.
    """
    named = [word.removeprefix(OBJECT) for word in words if word.startswith(OBJECT)]
    if named:
        found = [i for i in found if str(i.owner.id) == named[0]]
    if not found:
        raise UnreadableFile(f"The model places no object {quoted(named[0] if named else '')}.", "Choose another one.")
    if len(found) == 1:
        return found[0]
    mean, least = nearness(added.vertices, [i.placed() for i in found]).T
    nearest = found[int(np.argmin(mean))]
    touched = {i.owner.id: i.owner for i, near in zip(found, least, strict=True) if near * mm_per_unit <= TOUCH_MM}
    if len(touched) > 1 and NEAREST not in words:
        owners = sorted(touched.values(), key=lambda owner: (owner is not nearest.owner, owner.id))
        raise NeedsChoice(
            f"The teeth touch several objects of the package: {', '.join(map(_named, owners))}.",
            "Choose the object that they shall be part of.",
            tuple(f"{OBJECT}{owner.id}" for owner in owners),
        )
    return nearest


def _spliced(target: Instance, package: Package, added: Added) -> list[Edit]:
    """Vertices and triangles before the closing tags of the target's lists."""
    mesh = target.mesh
    vertices, triangles = _in_object(target, added)
    _vet_rounding(target, added, vertices)
    base, ends = mesh.count("vertices"), mesh.ends
    return [
        (ends["vertices"], ends["vertices"], vertex_text(vertices, mesh.prefix)),
        (ends["triangles"], ends["triangles"], triangle_text(triangles, base, mesh.prefix)),
    ]


def _in_object(target: Instance, added: Added) -> tuple[F64, I32]:
    linear, move = target.matrix[:3], target.matrix[3]
    vertices = np.linalg.solve(linear.T, (added.vertices - move).T).T
    mirrored = np.linalg.det(linear) < 0
    return vertices, added.triangles[:, ::-1] if mirrored else added.triangles


def _vet_rounding(target: Instance, added: Added, vertices: F64) -> None:
    back = vertices @ target.matrix[:3] + target.matrix[3]
    size = max(float(np.abs(added.vertices).max(initial=1.0)), float(np.abs(target.matrix[3]).max()))
    if np.abs(back - added.vertices).max(initial=0.0) > _ROUNDING * size:
        raise WriteFailed("The object's transform is too crooked for exact teeth.", "Write a new file instead.")


def vertex_text(vertices: F64, prefix: bytes = b"") -> bytes:
    """Vertex elements for (n, 3), each number with as many digits as float64 needs to come back the same."""
    line = f'<{prefix.decode()}vertex x="%r" y="%r" z="%r"/>\n'
    return ((line * len(vertices)) % tuple((vertices + 0.0).ravel().tolist())).encode()


def triangle_text(triangles: I32, base: int = 0, prefix: bytes = b"") -> bytes:
    """Triangle elements for (m, 3), their vertices counted from ``base``."""
    line = f'<{prefix.decode()}triangle v1="%d" v2="%d" v3="%d"/>\n'
    return ((line * len(triangles)) % tuple((triangles.astype(np.int64) + base).ravel().tolist())).encode()


def _copied(package: Package, found: list[Instance], target: Instance, added: Added) -> dict[str, list[Edit]]:
    """A copy of the object with teeth, and of every object above it that is placed more than once; the one link
    that leads to the target alone is turned to the copy."""
    edits: dict[str, list[Edit]] = {}
    fresh: dict[str, int] = {}
    inner = _spliced(target, package, added)
    for depth in range(len(target.steps) - 1, -1, -1):
        step = target.steps[depth]
        model = package.model(step.path)
        owner = model.objects[step.link.target]
        key = part_key(step.path)
        fresh[key] = max(fresh.get(key, 0), *model.resource_ids) + 1
        edits.setdefault(step.path, []).append(
            (owner.end, owner.end, b"\n" + _copy_of(model, owner, fresh[key], inner))
        )
        path = target.steps[depth - 1].path if depth else package.root
        inner = [_link_edit(package.model(path), step.link.begin, fresh[key])]
        if depth == 0 or _placings(found, target, depth - 1) == 1:
            edits.setdefault(path, []).extend(inner)
            return edits
    return edits


def _placings(found: list[Instance], target: Instance, depth: int) -> int:
    """How many ways lead to the object at a step of the target, each counted once."""
    step = target.steps[depth]
    ways = {
        tuple(id(s.link) for s in i.steps[: k + 1])
        for i in found
        for k, s in enumerate(i.steps)
        if (part_key(s.path), s.link.target) == (part_key(step.path), step.link.target)
    }
    return len(ways)


def _copy_of(model: Model, owner: Object3, number: int, inner: list[Edit]) -> bytes:
    """The object's text with its own id, other UUIDs, and the edits that fall into it."""
    opening = tag_at(model.text, owner.begin)
    edits = [*inner, (owner.begin, owner.begin + len(opening), _with_attribute(opening, b"id", b"%d" % number))]
    text = _applied(model.text[: owner.end], edits, owner.begin)
    return _with_new_uuids(model, text, number)


def _with_new_uuids(model: Model, text: bytes, number: int) -> bytes:
    """The production extension wants every UUID once; new ones are derived, so that the result is repeatable."""
    for prefix in (p for p, uri in model.namespaces.items() if uri == PRODUCTION and p):
        pattern = re.compile(rb"(\s" + re.escape(prefix.encode()) + rb":UUID\s*=\s*[\"'])([^\"']*)")
        text = pattern.sub(
            lambda m: m.group(1) + str(uuid.uuid5(uuid.NAMESPACE_OID, f"{m.group(2)!r} {number}")).encode(), text
        )
    return text


def _link_edit(model: Model, begin: int, number: int) -> Edit:
    tag = tag_at(model.text, begin)
    return begin, begin + len(tag), _with_attribute(tag, b"objectid", b"%d" % number)


def _with_attribute(tag: bytes, name: bytes, value: bytes) -> bytes:
    return re.sub(rb"(\s" + name + rb"\s*=\s*[\"'])[^\"']*", lambda m: m.group(1) + value, tag, count=1)


def _applied(text: bytes, edits: list[Edit], start: int = 0) -> bytes:
    """The text from ``start`` on with the edits made, none of which overlap."""
    pieces: list[bytes] = []
    at = start
    for begin, end, new in sorted(edits, key=lambda edit: edit[:2]):
        pieces += [text[at:begin], new]
        at = end
    return b"".join([*pieces, text[at:]])


def _stored(model: Model, edits: list[Edit]) -> bytes:
    """The changed model part in the encoding that it came in."""
    text = _applied(model.text, edits)
    return text if model.encoding == "utf-8" else text.decode().encode(model.encoding)


def vet_gain(before: int, after: int, gain: int) -> None:
    """Raise WriteFailed unless the plate holds what it did and the teeth."""
    if after - before != gain:
        text = f"The patched package reads back with {counted(after, 'facet')}, not {before + gain:,}."
        raise WriteFailed(text, "Write the part to a new file instead.")
