"""The XML of one 3MF model part: vetted, and understood as far as geometry goes, with the place of every piece.

Source: 3MF Core Specification 1.4.0. The long runs of vertices and triangles in their usual form are cut out
(core.files.threemf_runs); expat parses what is left. A run in any other form is left in and parsed by expat too,
which is right as well, but slower.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Final
from xml.parsers import expat

import numpy as np

from core.errors import RefusedFile, UnreadableFile
from core.files.content import counted
from core.files.guard import RAISE, Limits, quoted
from core.files.numbers import decimal
from core.files.threemf_model import (
    AGAIN,
    CORE,
    PRODUCTION,
    SLICE,
    TRIANGLE_SETS,
    Link,
    Mesh3,
    Model,
    Object3,
    matrix_of,
    prefix_at,
    tag_length,
    whole_id,
)
from core.files.threemf_runs import INDEX, Runs


def read_model(data: bytes, limits: Limits, trusted: Sequence[bytes] = ()) -> Model:
    """Parse one model part; ``trusted`` as for Runs.

    Raises UnreadableFile and RefusedFile naming the element that is wrong.
    """
    text, encoding = _as_utf8(data)
    model = Model(text, encoding)
    _Parser(model, Runs(text, trusted), limits).parse()
    return model


def _as_utf8(data: bytes) -> tuple[bytes, str]:
    """The XML in UTF-8 and the encoding it came in: UTF-8 and UTF-16 are what the core specification allows."""
    encoding = ""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16-le" if data[0] == 0xFF else "utf-16-be"
    elif data[:4] in (b"<\0?\0", b"\0<\0?"):
        encoding = "utf-16-le" if data[0] else "utf-16-be"
    if encoding:
        try:
            return data.decode(encoding).encode(), encoding
        except UnicodeError as error:
            raise UnreadableFile("The model's UTF-16 text is damaged.", AGAIN) from error
    declared = re.match(rb"(?:\xef\xbb\xbf)?<\?xml[^>]*?\sencoding\s*=\s*[\"']([^\"'>]*)", data[:400])
    if declared and declared.group(1).lower() not in (b"utf-8", b"us-ascii", b"utf8"):
        text = f"The model's text says it is encoded as {quoted(declared.group(1))}; 3MF allows UTF-8 and UTF-16."
        raise RefusedFile(text, AGAIN)
    return data, "utf-8"


class _Parser:
    """One pass of expat over what is left; a stack of the open elements decides what each may hold."""

    def __init__(self, model: Model, runs: Runs, limits: Limits) -> None:
        self.model, self.runs, self.limits = model, runs, limits
        self.stack: list[str] = []
        self.count = 0
        self.object: Object3 | None = None
        self.rows: list[tuple[bytes, ...]] | None = None
        self.text: list[str] | None = None
        self.title = ""
        self.expat = expat.ParserCreate("UTF-8", " ")
        self.expat.buffer_text = True
        self.expat.StartElementHandler = self.start
        self.expat.EndElementHandler = self.end
        self.expat.CharacterDataHandler = self.characters
        self.expat.StartNamespaceDeclHandler = self.namespace
        self.expat.StartDoctypeDeclHandler = self.doctype

    def parse(self) -> None:
        try:
            self.expat.Parse(self.runs.rest, True)
        except expat.ExpatError as error:
            text = f"The model's XML is not well formed ({expat.errors.messages[error.code]}, line {error.lineno})."
            raise UnreadableFile(text, AGAIN) from error

    def here(self) -> int:
        """The offset in the whole text of what expat is looking at."""
        return self.runs.original(self.expat.CurrentByteIndex)

    def doctype(self, *_: object) -> None:
        raise RefusedFile("The model's XML has a document type declaration (DTD); 3MF forbids it.", AGAIN)

    def namespace(self, prefix: str | None, uri: str) -> None:
        self.model.namespaces.setdefault(prefix or "", uri)

    def characters(self, text: str) -> None:
        if self.text is not None:
            self.text.append(text)

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if len(self.stack) >= self.limits.xml_depth or self.count > self.limits.xml_elements:
            raise RefusedFile("The model's XML is nested too deep or has too many elements.", "Check the file.")
        if self.stack and not self.stack[-1]:  # within something that is passed over
            self.stack.append("")
            return
        uri, _, name = tag.rpartition(" ")
        if not self.stack and (uri, name) != (CORE, "model"):
            raise UnreadableFile(f"The model's XML begins with {quoted(name)}, not with a 3MF model.", AGAIN)
        handler = _STARTS.get((self.stack[-1] if self.stack else "", name)) if uri == CORE else None
        self.stack.append(name if handler else "")
        if handler is not None:
            handler(self, attributes)
        elif uri == CORE:
            self.model.unknown.add(name)
        else:
            self.foreign(uri, name, attributes)

    def foreign(self, uri: str, name: str, attributes: dict[str, str]) -> None:
        """An element of an extension: what it could mean for geometry is remembered, the rest passed over."""
        holder = self.stack[-2]
        self.model.slices = self.model.slices or uri == SLICE
        if holder == "resources" and "id" in attributes:
            self.resource(attributes)
        if holder in ("object", "mesh") and uri != TRIANGLE_SETS and self.object is not None:
            self.object.other = self.object.other or name

    def end(self, tag: str) -> None:
        name = self.stack.pop()
        handler = _ENDS.get(name)
        if handler is not None:
            handler(self, name)

    def start_model(self, attributes: dict[str, str]) -> None:
        self.model.unit = attributes.get("unit")
        prefixes = attributes.get("requiredextensions", "").split()
        known = self.model.namespaces
        for prefix in prefixes:
            if prefix not in known:
                raise UnreadableFile(f"The model requires an extension {quoted(prefix)} that it does not name.", AGAIN)
        self.model.required = tuple(known[prefix] for prefix in prefixes)

    def start_metadata(self, attributes: dict[str, str]) -> None:
        self.title, self.text = attributes.get("name", ""), []

    def end_metadata(self, _: str) -> None:
        if self.text is not None and self.title:
            self.model.metadata.append((self.title, "".join(self.text).strip()))
        self.text = None

    def start_resource(self, attributes: dict[str, str]) -> None:
        self.resource(attributes)

    def resource(self, attributes: dict[str, str]) -> int:
        number = whole_id(attributes.get("id"), "A resource")
        if number in self.model.resource_ids:
            raise UnreadableFile(f"The model has two resources with the id {number}.", AGAIN)
        self.model.resource_ids.add(number)
        return number

    def start_object(self, attributes: dict[str, str]) -> None:
        number = self.resource(attributes)
        kind = attributes.get("type", "model")
        if kind not in _KINDS:
            raise UnreadableFile(f"Object {number} has the unknown type {quoted(kind)}.", AGAIN)
        self.object = Object3(number, kind, attributes.get("name", ""), self.here())
        self.model.slices = self.model.slices or any(key.startswith(SLICE) for key in attributes)

    def end_object(self, _: str) -> None:
        assert self.object is not None
        self.object.end = self.here() + tag_length(self.model.text, self.here())
        if self.object.mesh is not None and self.object.components:
            raise UnreadableFile(f"Object {self.object.id} has both a mesh and components.", AGAIN)
        self.model.objects[self.object.id] = self.object
        self.object = None

    def start_mesh(self, _: dict[str, str]) -> None:
        assert self.object is not None
        if self.object.mesh is not None:
            raise UnreadableFile(f"Object {self.object.id} has two meshes.", AGAIN)
        self.object.mesh = Mesh3(self.object.id)

    def end_mesh(self, _: str) -> None:
        assert self.object is not None
        mesh = self.object.mesh
        assert mesh is not None
        for name in ("vertices", "triangles"):
            if name not in mesh.ends:
                raise UnreadableFile(f"The mesh of object {self.object.id} has no {name}.", AGAIN)

    def start_list(self, _: dict[str, str]) -> None:
        """Vertices or triangles: the run that was cut out here, or a list for what follows."""
        assert self.object is not None
        mesh, name = self.object.mesh, self.stack[-1]
        assert mesh is not None
        if name in mesh.ends:
            raise UnreadableFile(f"The mesh of object {self.object.id} has {name} twice.", AGAIN)
        mesh.prefix = prefix_at(self.model.text, self.here())
        run = self.runs.found.get(self.expat.CurrentByteIndex)
        self.rows = [] if run is None else None
        if run is not None:
            mesh.runs[name] = run

    def end_list(self, name: str) -> None:
        assert self.object is not None
        mesh = self.object.mesh
        assert mesh is not None
        if self.rows is not None:
            where = f"The mesh of object {self.object.id}"
            convert: Callable[[bytes, str], float] = decimal if name == "vertices" else _index
            values = np.array([[convert(token, where) for token in row] for row in self.rows]).reshape(-1, 3)
            mesh.arrays[name] = values.astype(np.float64) if name == "vertices" else values.astype(np.int64)
        if mesh.count(name) > (3 if name == "vertices" else 1) * self.limits.triangles:
            text = f"Object {self.object.id} has {counted(mesh.count(name), 'row')} of {name}; that is too many."
            raise RefusedFile(text, RAISE)
        mesh.ends[name] = self.here()
        self.rows = None

    def start_vertex(self, attributes: dict[str, str]) -> None:
        self.row(attributes, ("x", "y", "z"))

    def start_triangle(self, attributes: dict[str, str]) -> None:
        self.row(attributes, ("v1", "v2", "v3"))

    def row(self, attributes: dict[str, str], names: tuple[str, ...]) -> None:
        assert self.rows is not None
        assert self.object is not None
        self.count -= 1  # these have their own limit
        for name in names:
            if name not in attributes:
                what = f"{self.stack[-1]} {len(self.rows) + 1:,} of object {self.object.id}"
                raise UnreadableFile(f"{what.capitalize()} has no {quoted(name)}.", AGAIN)
        self.rows.append(tuple(attributes[name].strip(" \t\r\n").encode() for name in names))

    def start_component(self, attributes: dict[str, str]) -> None:
        assert self.object is not None
        self.object.components.append(self.link(attributes, f"A component of object {self.object.id}"))

    def start_item(self, attributes: dict[str, str]) -> None:
        self.model.items.append(self.link(attributes, f"Build item {len(self.model.items) + 1}"))

    def link(self, attributes: dict[str, str], where: str) -> Link:
        path = attributes.get(f"{PRODUCTION} path", "")
        matrix = matrix_of(attributes.get("transform"), where)
        return Link(whole_id(attributes.get("objectid"), where), path, matrix, self.here())


_KINDS: Final = ("model", "solidsupport", "support", "surface", "other")

_Start = Callable[[_Parser, dict[str, str]], None]
_STARTS: Final[dict[tuple[str, str], _Start]] = {
    ("", "model"): _Parser.start_model,
    ("model", "metadata"): _Parser.start_metadata,
    ("model", "resources"): lambda parser, _: None,
    ("model", "build"): lambda parser, _: None,
    ("resources", "basematerials"): _Parser.start_resource,
    ("basematerials", "base"): lambda parser, _: None,
    ("resources", "object"): _Parser.start_object,
    ("object", "mesh"): _Parser.start_mesh,
    ("object", "metadatagroup"): lambda parser, _: None,
    ("item", "metadatagroup"): lambda parser, _: None,
    ("metadatagroup", "metadata"): lambda parser, _: None,
    ("mesh", "vertices"): _Parser.start_list,
    ("mesh", "triangles"): _Parser.start_list,
    ("vertices", "vertex"): _Parser.start_vertex,
    ("triangles", "triangle"): _Parser.start_triangle,
    ("object", "components"): lambda parser, _: None,
    ("components", "component"): _Parser.start_component,
    ("build", "item"): _Parser.start_item,
}
"""What may stand in what, and what is done with it; anything else of the core namespace is unknown."""

_ENDS: Final[dict[str, Callable[[_Parser, str], None]]] = {
    "metadata": _Parser.end_metadata,
    "object": _Parser.end_object,
    "mesh": _Parser.end_mesh,
    "vertices": _Parser.end_list,
    "triangles": _Parser.end_list,
}


def _index(token: bytes, where: str) -> int:
    if re.fullmatch(INDEX, token) is None:
        raise UnreadableFile(f"{where} has {quoted(token)} where a vertex number should be.", AGAIN)
    return int(token)
