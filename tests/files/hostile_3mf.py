"""3MF packages, right, odd and wrong.

Beside each stands the clause of the 3MF Core Specification 1.4.0 that makes it so; P names the Production Extension
1.1.2, O the Open Packaging Conventions (ISO/IEC 29500-2), Z PKWARE's APPNOTE 6.3.10. The clause numbers are written
down from memory of the tables of contents.
"""

# ruff: noqa: E501, PLW0108 - a table: one case a line, each built by a lambda of its own

from __future__ import annotations

import io
import struct
import zipfile

import numpy as np

from tests.files.build import (
    BEAMS,
    CORE,
    KEYS,
    MATERIAL,
    PRODUCTION,
    SETS,
    SIGNED,
    SLICES,
    START,
    TETRA,
    TETRA_FACES,
    TETRA_VOLUME,
    Ask,
    Case,
    Refuse,
    Right,
    archive,
    mesh_xml,
    model_xml,
    object_xml,
    package,
    rels,
)

V = TETRA_VOLUME
XMLNS_P = f'xmlns:p="{PRODUCTION}"'
TURNED = "0 1 0 -1 0 0 0 0 1 5 6 7"
MIRRORED = "-1 0 0 0 1 0 0 0 1 0 0 0"
DOUBLED = "2 0 0 0 2 0 0 0 2 0 0 0"


def _model(*resources, build='<item objectid="1"/>', **options):
    """A package of one model part."""
    return lambda: package(model_xml("".join(resources) or None, build, **options))


def _edit(old: str, new: str, count: int = 1):
    """The plain model with one piece of text replaced."""

    def build():
        text = model_xml()
        assert old in text
        return package(text.replace(old, new, count))

    return build


def _encoded(encoding: str, declared: str, bom: bytes = b""):
    def build():
        text = model_xml(
            object_xml(attributes='name="Hütchen 帽子"'), head=f'<?xml version="1.0" encoding="{declared}"?>'
        )
        return package(bom + text.encode(encoding, "xmlcharrefreplace"))

    return build


def component(number, transform="", extra=""):
    return f'<component objectid="{number}" {f"transform={chr(34)}{transform}{chr(34)}" if transform else ""} {extra}/>'


def assembly(number, *components, attributes=""):
    return object_xml(number, f"<components>{''.join(components)}</components>", attributes)


def _chain(depth: int) -> str:
    """Objects 1 to depth, each holding the one before."""
    return object_xml() + "".join(assembly(i, component(i - 1)) for i in range(2, depth + 1))


def _doubling(depth: int) -> str:
    """Each object holds the one before twice: 2^(depth − 1) tetrahedra."""
    return object_xml() + "".join(assembly(i, component(i - 1), component(i - 1)) for i in range(2, depth + 1))


def _production(item="", parts=None, root="", target="/3D/Objects/a.model", **options):
    other = model_xml(object_xml(7), "", **options)
    build = item or f'<item objectid="7" p:path="{target}"/>'
    text = model_xml(root or object_xml(1), build, attributes=f'{XMLNS_P} requiredextensions="p"')
    return lambda: package(text, parts or [("3D/Objects/a.model", other)])


def _bytes(change):
    """The plain package with its bytes changed by hand."""

    def build():
        data = bytearray(package())
        out = change(data)
        return bytes(data if out is None else out)

    return build


def _central(data: bytes, name: bytes) -> int:
    """Where the directory record of an entry begins."""
    at = data.find(b"PK\x01\x02")
    while data[at + 46 : at + 46 + len(name)] != name:
        at = data.index(b"PK\x01\x02", at + 4)
    return at


def _lie(field: int, value: int, size: str = "<I", local: int | None = None):
    """One field of the model's directory record replaced, and of the local record when ``local`` says where."""

    def change(data):
        at = _central(data, b"3D/3dmodel.model")
        if local is not None:
            header = struct.unpack_from("<I", data, at + 42)[0]
            struct.pack_into(size, data, header + local, value)
        struct.pack_into(size, data, at + field, value)

    return _bytes(change)


def _bomb() -> bytes:
    """A model of 40 MiB of blanks, which pack a thousand times."""
    return package(model_xml().replace("<resources>", "<resources>" + " " * (40 << 20)))


def _lying_bomb() -> bytes:
    """The directory says 1,000 bytes, the stream holds 40 MiB."""
    data = bytearray(_bomb())
    at = _central(data, b"3D/3dmodel.model")
    header = struct.unpack_from("<I", data, at + 42)[0]
    struct.pack_into("<I", data, at + 24, 1000)
    struct.pack_into("<I", data, header + 22, 1000)
    return bytes(data)


def _overlapping() -> bytes:
    """Two directory records that point at one local record, under two names."""
    data = package(parts=[("3D/other.model", model_xml())])
    first, second = _central(data, b"3D/3dmodel.model"), _central(data, b"3D/other.model")
    out = bytearray(data)
    out[second + 42 : second + 46] = data[first + 42 : first + 46]
    return bytes(out)


def _duplicate() -> bytes:
    """Two entries of one name, which the writer warns of; made by renaming."""
    return package(parts=[("3D/3dmodel.modeX", model_xml(object_xml() * 1))]).replace(
        b"3dmodel.modeX", b"3dmodel.model"
    )


def _entity(where: str) -> str:
    head = '<?xml version="1.0"?><!DOCTYPE model [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    return model_xml(head=head, metadata=f'<metadata name="Title">{where}</metadata>')


def _stored() -> bytes:
    return package(method=zipfile.ZIP_STORED)


def _descriptor() -> bytes:
    """Written as a stream: sizes follow behind the data (Z 4.3.9)."""
    out = _Unseekable()
    plain = zipfile.ZipFile(io.BytesIO(package()))
    with plain, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name in plain.namelist():
            file.writestr(name, plain.read(name))
    return bytes(out.data)


class _Unseekable:
    def __init__(self):
        self.data = bytearray()

    def write(self, piece):
        self.data += piece
        return len(piece)

    def flush(self):
        pass


def _spaced_numbers() -> bytes:
    text = model_xml().replace('x="20.0"', 'x=" 20.0 "').replace('v1="0"', 'v1=" 0"')
    return package(text)


def _many(count: int) -> str:
    return "".join('<item objectid="1"/>' for _ in range(count))


_CASES = [
    # packages
    ("plain", package, Right(4, V), "2.1"),
    ("stored, not packed", _stored, Right(4, V), "O 7, Z 4.4.5"),
    ("streamed sizes", _descriptor, Right(4, V), "Z 4.3.9"),
    ("archive comment", lambda: _commented(), Right(4, V), "Z 4.3.16"),
    ("attachments and thumbnail", lambda: package(parts=[("Metadata/thumbnail.png", b"\x89PNG"), ("notes.txt", "hi")]),
     Right(4, V), "6.1"),
    ("model under another name", lambda: package(path="3D/Hut.model", links=[(START, "/3D/Hut.model")]), Right(4, V), "2.1.1"),
    ("name with a blank", lambda: package(path="3D/rain hood.model", links=[(START, "/3D/rain%20hood.model")]), Right(4, V),
     "O 6.2.2"),
    ("name in another case", lambda: package(links=[(START, "/3d/3DModel.MODEL")]), Right(4, V), "O 6.2.2.3"),
    ("relative target", lambda: package(links=[(START, "3D/3dmodel.model")]), Right(4, V), "O 6.5"),
    ("target with dots", lambda: package(links=[(START, "/3D/../3D/./3dmodel.model")]), Right(4, V), "O 6.5"),
    ("no content types", lambda: archive([("_rels/.rels", rels().encode()), ("3D/3dmodel.model", model_xml().encode())]),
     Right(4, V), "O 7.2.3"),
    ("folder entries", lambda: package(parts=[("3D/Textures/", b"")]), Right(4, V), "O 7"),
    ("climbing names are not followed", lambda: package(parts=[("../../etc/hood", b"x")]), Right(4, V), "O 6.2.2"),
    ("no relationships", lambda: package(relations="absent"), Refuse("_rels/.rels"), "2.1"),
    ("relationships broken", lambda: package(relations="<Relationships"), Refuse("_rels/.rels", "well formed"), "O 6.5"),
    ("relationships with DTD", lambda: package(relations="<!DOCTYPE a><a/>"), Refuse("DTD"), "O 6.5"),
    ("no start model", lambda: package(links=[("http://example.org/other", "/3D/3dmodel.model")]), Refuse("no 3D model"), "2.1.1"),
    ("two start models", lambda: package(links=[(START, "/3D/3dmodel.model"), (START, "/3D/b.model")]), Refuse("several"), "2.1.1"),
    ("the same start twice", lambda: package(links=[(START, "/3D/3dmodel.model")] * 2), Right(4, V), "2.1.1"),
    ("start model missing", lambda: package(links=[(START, "/3D/gone.model")]), Refuse("gone.model"), "2.1.1"),
    ("external start model", lambda: package(relations=rels().replace("<Relationship ", '<Relationship TargetMode="External" ')),
     Refuse("no 3D model"), "O 6.5.3"),
    ("encrypted models", lambda: package(links=[(START, "/3D/3dmodel.model"), (KEYS, "/Secure/keystore.xml")]),
     Refuse("encrypted"), "6.4"),
    ("signed", lambda: package(links=[(START, "/3D/3dmodel.model"), (SIGNED, "/_xmlsignatures/origin.sigs")]),
     Right(4, V, ("signed",)), "6.3"),
    ("ZIP of something else", lambda: archive([("a.txt", b"hello")]), Refuse("no 3MF package"), "2.1"),
    ("empty ZIP", lambda: archive([]), Refuse("no 3MF package"), "2.1"),
    ("cut", lambda: package()[:-30], Refuse("cut off"), "Z 4.3.16"),
    ("cut in half", lambda: package()[: len(package()) // 2], Refuse("cut off"), "Z 4.3.16"),
    ("bytes behind", lambda: package() + b"more", Refuse("bytes behind"), "Z 4.3.16"),
    ("bytes before", lambda: b"PK\x03\x04more" + package(), Refuse("directory is not where"), "Z 4.3.1"),
    ("entry twice", _duplicate, Refuse("3dmodel.model", "twice"), "O 6.2.2.3"),
    ("entry twice in other case", lambda: package(parts=[("3D/3DMODEL.model", "x")]), Refuse("twice"), "O 6.2.2.3"),
    ("overlapping entries", _overlapping, Refuse("3D/other.model"), "Z 4.3.7"),
    ("encrypted entry", _lie(8, 1, "<H", 6), Refuse("3dmodel.model", "encrypted"), "Z 4.4.4"),
    ("unknown packing", _lie(10, 14, "<H", 8), Refuse("method 14"), "O 7, Z 4.4.5"),
    ("methods differ", _lie(10, 0, "<H"), Refuse("two different things"), "Z 4.3.7"),
    ("sizes differ", _lie(24, 12345), Refuse("two different things"), "Z 4.3.7"),
    ("checksums differ", _lie(16, 0xDEADBEEF), Refuse("two different things"), "Z 4.3.7"),
    ("checksum wrong", _lie(16, 0xDEADBEEF, "<I", 14), Refuse("damaged"), "Z 4.4.7"),
    ("size too small", _lie(24, 20, "<I", 22), Refuse("damaged"), "Z 4.4.9"),
    ("size too large", _lie(24, 99999, "<I", 22), Refuse("damaged"), "Z 4.4.9"),
    ("size says 3 GB", _lie(24, 3 << 30, "<I", 22), Refuse("limit"), "Z 4.4.9"),
    ("packed size beyond the end", _lie(20, 99999, "<I", 18), Refuse("overlaps"), "Z 4.4.8"),
    ("offset beyond the end", _lie(42, 0x7FFFFFFF), Refuse("not where"), "Z 4.4.16"),
    ("packed bytes damaged", _bytes(lambda d: _scribble(d)), Refuse("damaged"), "Z 4.4.7"),
    ("bomb", _bomb, Refuse("inflates", "times"), "O 7"),
    ("bomb that lies", _lying_bomb, Refuse("damaged"), "Z 4.4.9"),
    ("too many entries", lambda: _crowd(), Refuse("20,003 entries", "10,000"), "O 7"),
    ("split over disks", _bytes(lambda d: struct.pack_into("<H", d, len(d) - 18, 3)), Refuse("split"), "Z 4.4.19"),
    ("entry count wrong", _bytes(lambda d: struct.pack_into("<HH", d, len(d) - 14, 4, 4)), Refuse("directory"), "Z 4.4.21"),
    # XML
    ("UTF-8 with mark", _encoded("utf-8", "UTF-8", b"\xef\xbb\xbf"), Right(4, V), "2.3"),
    ("UTF-16 little-endian", _encoded("utf-16-le", "UTF-16", b"\xff\xfe"), Right(4, V), "2.3"),
    ("UTF-16 big-endian", _encoded("utf-16-be", "UTF-16", b"\xfe\xff"), Right(4, V), "2.3"),
    ("UTF-16 without mark", _encoded("utf-16-le", "UTF-16"), Right(4, V), "2.3"),
    ("UTF-16 damaged", lambda: package(b"\xff\xfe" + model_xml().encode("utf-16-le")[:-1]), Refuse("UTF-16"), "2.3"),
    ("no declaration", _model(head=""), Right(4, V), "2.3"),
    ("Latin-1", _encoded("latin-1", "ISO-8859-1"), Refuse("ISO-8859-1"), "2.3"),
    ("Windows letters", _encoded("cp1252", "windows-1252"), Refuse("windows-1252"), "2.3"),
    ("says UTF-8, is Latin-1", lambda: package(model_xml(object_xml(attributes='name="Hütchen"')).encode("latin-1")),
     Refuse("not well formed"), "2.3"),
    ("document type", lambda: package(_entity("x")), Refuse("DTD"), "2.3"),
    ("entities that explode", lambda: package(_entity("&b;" * 1000)), Refuse("DTD"), "2.3"),
    ("external entity", _edit('<?xml version="1.0" encoding="UTF-8"?>',
     '<?xml version="1.0"?><!DOCTYPE m [<!ENTITY x SYSTEM "file:///etc/hostname">]>'), Refuse("DTD"), "2.3"),
    ("undefined entity", _edit("<resources>", "<resources>&hood;"), Refuse("not well formed"), "2.3"),
    ("not XML", lambda: package("this is no XML"), Refuse("not well formed"), "2.3"),
    ("empty model part", lambda: package(""), Refuse("not well formed"), "2.3"),
    ("cut XML", lambda: package(model_xml()[:-40]), Refuse("not well formed"), "2.3"),
    ("two roots", lambda: package(model_xml() + "<more/>"), Refuse("not well formed"), "2.3"),
    ("attribute twice", _edit('x="20.0"', 'x="20.0" x="21.0"'), Refuse("not well formed"), "2.3"),
    ("undeclared prefix", _edit("<resources>", "<q:resources>"), Refuse("not well formed"), "2.3"),
    ("nested too deep", _edit("<resources>", "<resources>" + "<a>" * 5000 + "</a>" * 5000), Refuse("nested too deep"), "2.3"),
    ("too many elements", _edit("<resources>", "<resources>" + "<a/>" * 1_100_000), Refuse("too many elements"), "2.3"),
    ("zero byte", lambda: package(model_xml().replace("<build>", "\0<build>")), Refuse("not well formed"), "2.3"),
    ("core prefixed", lambda: package(_prefixed()), Right(4, V), "2.3.1"),
    ("comments everywhere", _edit("<vertex ", "<!-- corner --><vertex ", 99), Right(4, V), "2.3"),
    ("vertices within a comment", _edit("<resources>", f"<resources><!-- {mesh_xml()} -->"), Right(4, V), "2.3"),
    ("single quotes", lambda: package(model_xml().replace('"', "'")), Right(4, V), "2.3"),
    ("blanks around equals", lambda: package(model_xml().replace('x="', 'x = "')), Right(4, V), "2.3"),
    ("closing tags", lambda: package(model_xml().replace("/></vertices>", "></vertex></vertices>")), Right(4, V), "2.3"),
    ("character references", lambda: package(model_xml().replace('"20.0"', '"2&#48;.0"')), Right(4, V), "2.3"),
    ("many lines", lambda: package(model_xml().replace("><", ">\r\n  <")), Right(4, V), "2.3"),
    ("whitespace inside of numbers' quotes", _spaced_numbers, Right(4, V), "3.1"),
    ("openings without end", _edit("<resources>", "<resources>" + "<vertices>" * 60), Refuse(), "2.3"),
    ("openings in great number", lambda: package(model_xml().replace("<resources>", "<resources>" + "<vertices>" * 200_000)),
     Refuse(), "2.3"),
    # the model
    ("root of another namespace", lambda: package(model_xml().replace(CORE, "http://example.org/a")), Refuse("3MF model"), "3.4"),
    ("root of another name", lambda: package(model_xml().replace("model", "module")), Refuse("module"), "3.4"),
    ("unknown required extension", _model(attributes='xmlns:q="http://example.org/q" requiredextensions="q"'),
     Refuse("http://example.org/q"), "2.3.1"),
    ("required without a namespace", _model(attributes='requiredextensions="q"'), Refuse("“q”"), "2.3.1"),
    ("beam lattice required", _model(attributes=f'xmlns:b="{BEAMS}" requiredextensions="b"'), Refuse("beamlattice"), "2.3.1"),
    ("materials required", _model(attributes=f'xmlns:m="{MATERIAL}" requiredextensions="m"'), Right(4, V), "2.3.1"),
    ("recommended extension", _model(attributes='xmlns:q="http://example.org/q" recommendedextensions="q"'), Right(4, V), "2.3.1"),
    ("unknown attributes and elements of others", lambda: package(model_xml(attributes='xmlns:q="urn:q"').replace(
     "<resources>", '<q:a><q:b c="1"/></q:a><resources>').replace("<object ", '<object q:hood="yes" ')), Right(4, V), "2.3.1"),
    ("unknown core element", _edit("<resources>", "<hood/><resources>"), Right(4, V, ("“hood”",)), "3.4"),
    ("metadata", _model(metadata='<metadata name="Designer">A. Rain</metadata><metadata name="LicenseTerms">CC0</metadata>'),
     Right(4, V), "3.4.1"),
    ("unit absent", _model(unit=""), Right(4, V), "3.4"),
    ("unit unknown", _model(unit='unit="furlong"'), Refuse("furlong"), "3.4"),
    ("unit in another case", _model(unit='unit="Inch"'), Refuse("Inch"), "3.4"),
    ("no resources", lambda: package(f'<model xmlns="{CORE}"><build/></model>'), Refuse("neither objects"), "3.4.2"),
    ("empty plate", _model(build=""), Ask({"take_all_objects": 4}), "3.4.3"),
    ("empty plate, two objects", _model(object_xml(1), object_xml(2), build=""), Ask({"take_all_objects": 8}), "3.4.3"),
    ("empty plate, assembly", _model(object_xml(1), assembly(2, component(1)), build=""), Ask({"take_all_objects": 4}), "3.4.3"),
    ("object not on the plate", _model(object_xml(1), object_xml(2)), Right(4, V, ("1 object not on the build plate",)), "3.4.3"),
    ("two items", _model(object_xml(1), build='<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 50 0 0"/>'),
     Right(8, 2 * V, ("2 objects on the build plate",)), "3.4.3.1"),
    ("item of no object", _model(build='<item objectid="9"/>'), Refuse("object 9"), "3.4.3.1"),
    ("item without an object", _model(build="<item/>"), Refuse("item 1"), "3.4.3.1"),
    ("item id is a word", _model(build='<item objectid="one"/>'), Refuse("“one”"), "3.4.3.1"),
    ("item turned", _model(build=f'<item objectid="1" transform="{TURNED}"/>'), Right(4, V), "3.3"),
    ("item mirrored stays outward", _model(build=f'<item objectid="1" transform="{MIRRORED}"/>'), Right(4, V), "3.3"),
    ("item doubled", _model(build=f'<item objectid="1" transform="{DOUBLED}"/>'), Right(4, 8 * V), "3.3"),
    ("transform of 11 numbers", _model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>'), Refuse("11 numbers"), "3.3"),
    ("transform of 16 numbers", _model(build='<item objectid="1" transform="1 0 0 0 0 1 0 0 0 0 1 0 0 0 0 1"/>'),
     Refuse("16 numbers"), "3.3"),
    ("transform with a word", _model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 x 0 0 0"/>'), Refuse("“x”"), "3.3"),
    ("transform with NaN", _model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 nan 0 0 0"/>'), Refuse("nan"), "3.3"),
    ("transform flattens", _model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>'), Refuse("flattens"), "3.3"),
    ("transform of zeros", _model(build='<item objectid="1" transform="0 0 0 0 0 0 0 0 0 0 0 0"/>'), Refuse("flattens"), "3.3"),
    ("transform to nowhere", _model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 1 1e300 0 0"/>'), Refuse("1e+300"), "3.3"),
    # objects
    ("id twice", _model(object_xml(1), object_xml(1)), Refuse("two resources", "id 1"), "3.4.2"),
    ("id shared with materials", _model('<basematerials id="1"/>', object_xml(1)), Refuse("two resources"), "3.4.2"),
    ("id shared with colours", _model('<m:colorgroup id="1"/>', object_xml(1), attributes=f'xmlns:m="{MATERIAL}"'),
     Refuse("two resources"), "3.4.2"),
    ("id zero", _model(object_xml(0)), Refuse("“0”"), "3.4.2"),
    ("id negative", _model(object_xml(-1)), Refuse("“-1”"), "3.4.2"),
    ("id too large", _model(object_xml(2**31)), Refuse("“2147483648”"), "3.4.2"),
    ("id missing", _edit('id="1" ', ""), Refuse("id “”"), "3.4.2"),
    ("unknown type", _model(object_xml(1, attributes='type="hood"')), Refuse("“hood”"), "4"),
    ("support is left out", _model(object_xml(1), object_xml(2, attributes='type="support"'),
     build='<item objectid="1"/><item objectid="2"/>'), Right(4, V, ("1 support object left out",)), "4"),
    ("solid support is left out", _model(object_xml(1), object_xml(2, attributes='type="solidsupport"'),
     build='<item objectid="1"/><item objectid="2"/>'), Right(4, V, ("1 solidsupport object",)), "4"),
    ("surface is left out", _model(object_xml(1), object_xml(2, attributes='type="surface"'),
     build='<item objectid="1"/><item objectid="2"/>'), Right(4, V, ("1 surface object",)), "4"),
    ("only support", _model(object_xml(1, attributes='type="support"')), Refuse("no facets"), "4"),
    ("neither mesh nor components", _model(object_xml(1, "")), Refuse("no facets"), "4"),
    ("mesh and components", _model(object_xml(1), object_xml(2, mesh_xml() + f"<components>{component(1)}</components>"),
     build='<item objectid="2"/>'), Refuse("both a mesh and components"), "4"),
    ("two meshes", _model(object_xml(1, mesh_xml() * 2)), Refuse("two meshes"), "4"),
    ("described by an extension", _model(object_xml(1, "<q:shape/>"), attributes='xmlns:q="urn:q"'), Refuse("“shape”"), "4"),
    # meshes
    ("triangles before vertices", lambda: package(_swapped()), Right(4, V), "4.1"),
    ("no vertices", _edit("<vertices>", "<!--<vertices>-->"), Refuse(), "4.1.3"),
    ("no triangles", _model(object_xml(1, "<mesh><vertices><vertex x='0' y='0' z='0'/></vertices></mesh>")),
     Refuse("no triangles"), "4.1.4"),
    ("empty lists", _model(object_xml(1, "<mesh><vertices/><triangles/></mesh>")), Refuse("no facets"), "4.1"),
    ("vertices twice", lambda: package(model_xml().replace("<triangles>", "<vertices></vertices><triangles>")),
     Refuse("vertices twice"), "4.1.3"),
    ("index too high", lambda: package(model_xml(object_xml(1, mesh_xml(faces=[[0, 1, 4]])))), Refuse("Triangle 1", "vertex 4"),
     "4.1.4.1"),
    ("index negative", lambda: package(model_xml(object_xml(1, mesh_xml(faces=[[0, 1, -1]])))), Refuse("“-1”"), "4.1.4.1"),
    ("index is a fraction", _edit('v1="0"', 'v1="0.5"'), Refuse("“0.5”"), "4.1.4.1"),
    ("index beyond 32 bits", _edit('v1="0"', 'v1="4294967296"'), Refuse("“4294967296”"), "4.1.4.1"),
    ("index missing", _edit('v1="0"', ""), Refuse("Triangle 1", "“v1”"), "4.1.4.1"),
    ("coordinate missing", _edit('x="20.0"', ""), Refuse("Vertex 2", "“x”"), "4.1.3.1"),
    ("coordinate is a word", _edit('x="20.0"', 'x="twenty"'), Refuse("“twenty”"), "4.1.3.1"),
    ("coordinate NaN", _edit('x="20.0"', 'x="NaN"'), Refuse("“NaN”"), "4.1.3.1"),
    ("coordinate INF", _edit('x="20.0"', 'x="INF"'), Refuse("“INF”"), "4.1.3.1"),
    ("coordinate overflows", _edit('x="20.0"', 'x="1e999"'), Refuse("finite"), "4.1.3.1"),
    ("coordinate absurd", _edit('x="20.0"', 'x="1e30"'), Refuse("1e+30"), "4.1.3.1"),
    ("decimal comma", _edit('x="20.0"', 'x="20,0"'), Refuse("“20,0”"), "4.1.3.1"),
    ("digit separator", _edit('x="20.0"', 'x="2_0"'), Refuse("“2_0”"), "4.1.3.1"),
    ("two numbers in one", _edit('x="20.0"', 'x="20 0"'), Refuse("“20 0”"), "4.1.3.1"),
    ("exponents and signs", _edit('x="20.0"', 'x="+2.0E+1"'), Right(4, V), "3.1"),
    ("wrong case", _edit("<vertex ", "<Vertex ", 99), Refuse(), "4.1.3.1"),
    ("same corner twice", lambda: package(model_xml(object_xml(1, mesh_xml(faces=[*TETRA_FACES, [0, 0, 1]])))),
     Right(4, V, ("1 facet with fewer",)), "4.1.4.1"),
    ("loose vertex", lambda: package(model_xml(object_xml(1, mesh_xml(np.vstack([TETRA, [[1, 2, 3]]]))))),
     Right(4, V, ("1 vertex without",)), "4.1.3"),
    ("split vertices", lambda: package(model_xml(object_xml(1, mesh_xml(TETRA[TETRA_FACES].reshape(-1, 3),
     np.arange(12).reshape(4, 3))))), Right(4, V, ("8 vertices at the place",)), "4.1.4"),
    ("properties on triangles", _edit('v3="1"', 'v3="1" pid="5" p1="0" p2="0" p3="0"'), Right(4, V), "4.1.4.1"),
    ("properties in another order", _edit('<triangle v1="0"', '<triangle pid="5" p1="0" v1="0"'), Right(4, V), "4.1.4.1"),
    ("inside out", lambda: package(model_xml(object_xml(1, mesh_xml(faces=TETRA_FACES[:, ::-1])))), Right(4, -V), "4.1"),
    ("two bodies touch at a point", lambda: package(model_xml(object_xml(1, mesh_xml(np.vstack([TETRA, -TETRA]),
     np.vstack([TETRA_FACES, TETRA_FACES[:, ::-1] + 4]))))), Right(8, 2 * V), "4.1"),
    ("triangle sets", lambda: package(model_xml(object_xml(1, mesh_xml(extra='<t:trianglesets><t:triangleset name="lip" '
     'identifier="a"><t:ref index="0"/></t:triangleset></t:trianglesets>')), attributes=f'xmlns:t="{SETS}"')), Right(4, V), "4.1.5"),
    ("beams in the mesh are said", lambda: package(model_xml(object_xml(1, mesh_xml(extra="<b:beamlattice/>")),
     attributes=f'xmlns:b="{BEAMS}"')), Right(4, V, ("beamlattice",)), "2.3.1"),
    ("slices are said", _model(object_xml(1, attributes='s:slicestackid="3"'), attributes=f'xmlns:s="{SLICES}"'),
     Right(4, V, ("slices",)), "2.3.1"),
    # components
    ("component", _model(object_xml(1), assembly(2, component(1)), build='<item objectid="2"/>'), Right(4, V), "4.2"),
    ("component turned and item mirrored", _model(object_xml(1), assembly(2, component(1, TURNED)),
     build=f'<item objectid="2" transform="{MIRRORED}"/>'), Right(4, V), "4.2.1"),
    ("mirrored twice", _model(object_xml(1), assembly(2, component(1, MIRRORED)),
     build=f'<item objectid="2" transform="{MIRRORED}"/>'), Right(4, V), "4.2.1"),
    ("three deep", _model(_chain(3), build='<item objectid="3"/>'), Right(4, V), "4.2"),
    ("thirty-two deep", _model(_chain(32), build='<item objectid="32"/>'), Right(4, V), "4.2"),
    ("thirty-three deep", _model(_chain(33), build='<item objectid="33"/>'), Refuse("deeper than 32"), "4.2"),
    ("forward reference", _model(assembly(2, component(1)), object_xml(1), build='<item objectid="2"/>'), Right(4, V), "4.2.1"),
    ("contains itself", _model(assembly(1, component(1))), Refuse("contains itself"), "4.2.1"),
    ("contain each other", _model(assembly(1, component(2)), assembly(2, component(1))), Refuse("contains itself"), "4.2.1"),
    ("component of nothing", _model(assembly(1, component(8))), Refuse("object 8"), "4.2.1"),
    ("eleven doublings", _model(_doubling(11), build='<item objectid="11"/>'), Right(4096, 1024 * V), "4.2"),
    ("thirty doublings", _model(_doubling(30), build='<item objectid="30"/>'), Refuse("10,000 objects"), "4.2"),
    ("many items", lambda: package(model_xml(build=_many(20_000))), Refuse("10,000 objects"), "3.4.3"),
    ("support within an assembly", _model(object_xml(1), object_xml(3, attributes='type="support"'),
     assembly(2, component(1), component(3)), build='<item objectid="2"/>'), Right(4, V, ("1 support object",)), "4.2"),
    # production paths
    ("model in another part", _production(), Right(4, V), "P 3"),
    ("path in another case", _production(target="/3d/objects/A.model"), Right(4, V), "O 6.2.2.3"),
    ("component in another part", _production(item='<item objectid="2"/>', root=assembly(2, component(7, extra='p:path="/3D/Objects/a.model"'))),
     Right(4, V), "P 4"),
    ("part missing", _production(target="/3D/Objects/b.model"), Refuse("b.model"), "P 3"),
    ("object missing in the part", _production(item='<item objectid="8" p:path="/3D/Objects/a.model"/>'), Refuse("object 8"), "P 3"),
    ("parts in different units", _production(unit='unit="inch"'), Refuse("different units"), "P 3"),
    ("part without a unit", _production(unit=""), Right(4, V), "P 3"),
    ("part is not a model", _production(parts=[("3D/Objects/a.model", "<a/>")]), Refuse("3MF model"), "P 3"),
    ("path to the relationships", _production(item='<item objectid="1" p:path="/_rels/.rels"/>'), Refuse("3MF model"), "P 3"),
    ("path climbs out", _production(item='<item objectid="1" p:path="/../../../etc/hostname"/>'), Refuse("etc/hostname"), "P 3"),
]  # fmt: skip


def _commented() -> bytes:
    data = bytearray(package())
    struct.pack_into("<H", data, len(data) - 2, 5)
    return bytes(data) + b"hello"


def _scribble(data) -> None:
    at = _central(data, b"3D/3dmodel.model")
    header = struct.unpack_from("<I", data, at + 42)[0]
    data[header + 30 + 16 + 60] ^= 0xFF


def _crowd() -> bytes:
    return archive([*((f"n{i}", b"") for i in range(20_000)), *_plain_entries()], zipfile.ZIP_STORED)


def _plain_entries():
    return [("[Content_Types].xml", b"x"), ("_rels/.rels", rels().encode()), ("3D/3dmodel.model", model_xml().encode())]


def _prefixed() -> str:
    """The core namespace by prefix instead of by default."""
    text = model_xml().replace(f'xmlns="{CORE}"', f'xmlns:c="{CORE}"')
    for name in (
        "model",
        "resources",
        "object",
        "mesh",
        "vertices",
        "vertex",
        "triangles",
        "triangle",
        "build",
        "item",
    ):
        for end in (" ", ">", "/"):
            text = text.replace(f"<{name}{end}", f"<c:{name}{end}").replace(f"</{name}{end}", f"</c:{name}{end}")
    return text


def _swapped() -> str:
    text = model_xml()
    vertices = text[text.index("<vertices>") : text.index("</vertices>") + 11]
    return text.replace(vertices, "").replace("</triangles>", "</triangles>" + vertices)


CASES = [Case(name, data, outcome, ".3mf", clause) for name, data, outcome, clause in _CASES]
for _unit, _scale in (
    ("micron", 1e-3),
    ("millimeter", 1),
    ("centimeter", 10),
    ("inch", 25.4),
    ("foot", 304.8),
    ("meter", 1e3),
):
    CASES.append(
        Case(f"unit {_unit}", _model(unit=f'unit="{_unit}"'), Right(4, TETRA_VOLUME * _scale**3), ".3mf", "3.4")
    )
CASES.append(Case("3MF with another ending", package, Right(4, TETRA_VOLUME), ".zip", "2.1"))
