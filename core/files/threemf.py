"""3MF packages: which model is meant, what stands on the build plate, and the mesh of all of it.

Sources: 3MF Core Specification 1.4.0, 3MF Production Extension 1.1.2 (paths), Open Packaging Conventions
(ISO/IEC 29500-2; relationships and part names). Only the parts that are needed are inflated.
"""

from __future__ import annotations

import posixpath
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final
from urllib.parse import unquote
from xml.parsers import expat

import numpy as np

from core.errors import NeedsChoice, RefusedFile, SnapcombError, UnreadableFile
from core.files.content import Content, counted, indexed, vet_count, vet_numbers
from core.files.guard import DEFAULT, RAISE, Limits, quoted
from core.files.threemf_model import UNDERSTOOD, Link, Mesh3, Model, Object3
from core.files.threemf_xml import read_model
from core.files.zip_parts import Archive, Entry, inflate, open_archive, part_key
from core.geometry.mesh import F64, I64
from core.units import MM_PER, UnitName

TAKE_ALL: Final = "take_all_objects"

_RELATIONS: Final = "http://schemas.openxmlformats.org/package/2006/relationships"
_MODEL: Final = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
_SIGNATURE: Final = "http://schemas.openxmlformats.org/package/2006/relationships/digital-signature/origin"
_SECRETS: Final = ("keystore", "encryptedfile")
_TRUSTED: Final = 8
"""Runs that are remembered: those of four large objects, beside which the others do not matter."""

_STILL: Final = np.vstack([np.eye(3), np.zeros(3)])
_AGAIN: Final = "Export the model again."


@dataclass(frozen=True)
class Step:
    """One object on the way from the build plate to a mesh: the part that holds it, and the link that named it."""

    path: str
    link: Link


@dataclass(frozen=True, eq=False)
class Instance:
    """A mesh as it stands on the plate. ``steps`` lead to it; ``matrix`` (4, 3) takes its points to the plate."""

    owner: Object3
    mesh: Mesh3
    steps: tuple[Step, ...]
    matrix: F64

    @property
    def path(self) -> str:
        """The part that holds the mesh."""
        return self.steps[-1].path

    def placed(self) -> tuple[F64, I64]:
        """Vertices on the plate in model units, and triangles, turned over where the placing mirrors."""
        if (self.matrix == _STILL).all():
            return self.mesh.vertices, self.mesh.triangles
        vertices = self.mesh.vertices @ self.matrix[:3] + self.matrix[3]
        mirrored = np.linalg.det(self.matrix[:3]) < 0
        return vertices, self.mesh.triangles[:, ::-1] if mirrored else self.mesh.triangles


@dataclass(eq=False)
class Package:
    """An open package: the archive, the model parts read so far, and what was noticed."""

    archive: Archive
    limits: Limits
    root: str = ""
    signed: bool = False
    models: dict[str, Model] = field(default_factory=dict)
    kinds: Counter[str] = field(default_factory=Counter)
    extras: dict[str, None] = field(default_factory=dict)
    inflated: int = 0
    trusted: tuple[bytes, ...] = ()

    def longest_runs(self) -> tuple[bytes, ...]:
        """The longest runs of the models read so far, to be trusted when they are met again."""
        runs = [r for m in self.models.values() for o in m.objects.values() if o.mesh for r in o.mesh.runs.values()]
        return tuple(sorted(runs, key=len)[-_TRUSTED:])

    def model(self, path: str) -> Model:
        """The model part of a path, parsed once. Raises UnreadableFile when the package has none."""
        key = part_key(path)
        if key not in self.models:
            entry = self.entry(path)
            self.models[key] = read_model(self.bytes_of(entry), self.limits, self.trusted)
            self._vet(self.models[key])
        return self.models[key]

    def entry(self, path: str) -> Entry:
        """The archive entry of a part name."""
        entry = self.archive.find(path) or self.archive.find(unquote(path))
        if entry is None:
            raise UnreadableFile(f"The package names the part {quoted(path, 80)}, but does not hold it.", _AGAIN)
        return entry

    def bytes_of(self, entry: Entry) -> bytes:
        """One part inflated; all parts together count against the limit."""
        data = inflate(self.archive, entry, self.limits, self.inflated)
        self.inflated += len(data)
        return data

    def _vet(self, model: Model) -> None:
        for uri in model.required:
            if uri not in UNDERSTOOD:
                raise RefusedFile(
                    f"The model requires the extension {quoted(uri, 120)}, which this program does not know.",
                    "Export it without that extension.",
                )
        root = self.models.get(part_key(self.root))
        if root is not None and model.unit not in (None, root.unit or "millimeter"):
            raise RefusedFile("The package's model parts are in different units.", "Export the model in one unit.")


def open_package(data: bytes, limits: Limits, trusted: tuple[bytes, ...] = ()) -> Package:
    """Open the archive and find its one model by the package relationships (OPC; core specification 2.1).

    Raises UnreadableFile and RefusedFile naming what is missing, encrypted or doubled.
    """
    package = Package(open_archive(data, limits), limits, trusted=trusted)
    relations = package.archive.find("_rels/.rels")
    if relations is None:
        raise UnreadableFile("The archive is no 3MF package: it has no “_rels/.rels”.", _AGAIN)
    roots = []
    for kind, target in _relationships(package.bytes_of(relations)):
        package.signed = package.signed or kind == _SIGNATURE
        if any(word in kind.lower() for word in _SECRETS):
            raise RefusedFile("The package holds encrypted models.", "Decrypt it in the program that made it.")
        if kind == _MODEL:
            roots.append(posixpath.normpath("/" + target))
    if len(set(roots)) != 1:
        text = "names no 3D model" if not roots else "names several 3D models as its start"
        raise UnreadableFile(f"The package {text}.", _AGAIN)
    package.root = roots[0]
    unit = package.model(package.root).unit
    if unit is not None and unit not in MM_PER:
        raise UnreadableFile(f"The model is in the unknown unit {quoted(unit)}.", _AGAIN)
    return package


def _relationships(data: bytes) -> list[tuple[str, str]]:
    """Type and target of every relationship that points inside of the package."""
    found: list[tuple[str, str]] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag == f"{_RELATIONS} Relationship" and attributes.get("TargetMode", "Internal") == "Internal":
            found.append((attributes.get("Type", ""), attributes.get("Target", "")))

    def doctype(*_: object) -> None:
        raise RefusedFile("The package's relationships have a document type declaration (DTD).", _AGAIN)

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler, parser.StartDoctypeDeclHandler = start, doctype
    try:
        parser.Parse(data, True)
    except SnapcombError:
        raise
    except (expat.ExpatError, LookupError, ValueError) as error:
        raise UnreadableFile("The package's “_rels/.rels” is not well formed.", _AGAIN) from error
    return found


def instances(package: Package, choice: str | None = None) -> list[Instance]:
    """Every mesh of type "model" as it stands on the plate, in the order of the build.

    Raises NeedsChoice ("take_all_objects") for an empty plate; UnreadableFile for missing objects and cycles;
    RefusedFile for depth and number. What is not of type "model" is counted in ``package.kinds``.
    """
    items = _items(package, choice)
    out: list[Instance] = []
    for visits, (steps, matrix, owner) in enumerate(_walk(package, items), 1):
        if visits > package.limits.instances:
            text = f"The model places more than {package.limits.instances:,} objects."
            raise RefusedFile(text, RAISE)
        if owner.kind != "model":
            package.kinds[owner.kind] += 1
        elif owner.mesh is not None and owner.mesh.triangle_count:
            out.append(Instance(owner, owner.mesh, steps, matrix))
    return out


def _items(package: Package, choice: str | None) -> list[Link]:
    model = package.model(package.root)
    if model.items:
        return model.items
    if not model.objects:
        raise UnreadableFile("The model has neither objects nor anything on its build plate.", _AGAIN)
    if choice != TAKE_ALL:
        raise NeedsChoice(
            f"Nothing stands on the model's build plate; it holds {counted(len(model.objects), 'object')}.",
            "Take all objects as they are, or export the model again.",
            (TAKE_ALL,),
        )
    inner = {link.target for o in model.objects.values() for link in o.components}
    return [Link(number, "", _STILL, -1) for number in model.objects if number not in inner]


def _walk(package: Package, items: list[Link]) -> Iterator[tuple[tuple[Step, ...], F64, Object3]]:
    """All objects below the build items, depth first, in order; a stack, because files choose the depth."""
    stack: list[tuple[tuple[Step, ...], F64, Link]] = []
    for item in reversed(items):
        stack.append(((), _STILL, item))
    while stack:
        steps, outer, link = stack.pop()
        path = link.path or (steps[-1].path if steps else package.root)
        owner = package.model(path).objects.get(link.target)
        if owner is None:
            raise UnreadableFile(f"The model places object {link.target}, but does not hold it.", _AGAIN)
        if any(s.link.target == link.target and part_key(s.path) == part_key(path) for s in steps):
            raise UnreadableFile(f"Object {link.target} contains itself.", _AGAIN)
        if len(steps) >= package.limits.component_depth:
            raise RefusedFile(f"Components are nested deeper than {package.limits.component_depth}.", "Flatten them.")
        matrix = _combined(link.matrix, outer)
        steps = (*steps, Step(path, link))
        yield steps, matrix, owner
        if owner.kind == "model":
            stack += [(steps, matrix, inner) for inner in reversed(owner.components)]
        _vet_content(package, owner)


def _combined(inner: F64, outer: F64) -> F64:
    """First ``inner``, then ``outer``; both (4, 3) for row vectors."""
    return np.vstack([inner[:3] @ outer[:3], inner[3] @ outer[:3] + outer[3]])


def _vet_content(package: Package, owner: Object3) -> None:
    """Geometry that an extension adds is not skipped in silence."""
    if not owner.other or owner.kind != "model":
        return
    if owner.mesh is None and not owner.components:
        raise RefusedFile(
            f"Object {owner.id} is described by {quoted(owner.other)} of an extension, not by a mesh.",
            "Export it as a mesh.",
        )
    package.extras[f"{quoted(owner.other)} of object {owner.id}"] = None


def read(data: bytes, choice: str | None = None, limits: Limits = DEFAULT) -> Content:
    """All meshes of type "model" on the build plate as one, file numbers, in plate coordinates, with the unit.

    Raises UnreadableFile, RefusedFile and NeedsChoice ("take_all_objects") as the functions above.
    """
    package = open_package(data, limits)
    found = instances(package, choice)
    vet_count(sum(i.mesh.triangle_count for i in found), limits)
    content = _together([_indexed(instance, limits) for instance in found])
    model = package.model(package.root)
    unit: UnitName = next(u for u in MM_PER if u == (model.unit or "millimeter"))
    notes = (*content.notes, *_notes(package, found))
    return Content(content.vertices, content.triangles, unit, notes, tuple(model.metadata))


def _indexed(instance: Instance, limits: Limits) -> Content:
    vertices, triangles = instance.placed()
    vet_numbers(vertices, limits, "vertex", 1)
    return indexed(vertices, triangles)


def _together(parts: list[Content]) -> Content:
    """Several contents in one; equal notes are said once."""
    if len(parts) == 1:
        return parts[0]
    starts = np.cumsum([0, *(len(p.vertices) for p in parts[:-1])])
    return Content(
        np.concatenate([p.vertices for p in parts]),
        np.concatenate([p.triangles + np.int32(s) for p, s in zip(parts, starts, strict=True)]),
        notes=tuple(dict.fromkeys(note for p in parts for note in p.notes)),
    )


def _notes(package: Package, found: list[Instance]) -> tuple[str, ...]:
    notes = [f"{counted(n, f'{kind} object')} left out; the file keeps them." for kind, n in package.kinds.items()]
    notes += [f"{what} left out; the file keeps it." for what in package.extras]
    used = {(part_key(step.path), step.link.target) for i in found for step in i.steps}
    loose = sum((key, number) not in used for key, m in package.models.items() for number in m.objects)
    skipped = loose - sum(package.kinds.values())
    if skipped > 0:
        notes.append(f"{counted(skipped, 'object')} not on the build plate left out; the file keeps them.")
    if len(found) > 1:
        notes.append(f"{counted(len(found), 'object')} on the build plate are one part here.")
    unknown = sorted({word for m in package.models.values() for word in m.unknown})
    if unknown:
        notes.append(f"Passed over, not in the 3MF standard: {', '.join(map(quoted, unknown[:5]))}.")
    if package.signed:
        notes.append("The package is signed: teeth can only be written to a new file, not into this one.")
    if any(m.slices for m in package.models.values()):
        notes.append("The package holds ready slices: teeth can only be written to a new file, not into this one.")
    return tuple(notes)
