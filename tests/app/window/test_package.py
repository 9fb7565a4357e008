"""A 3MF with three objects, colours and metadata through the window: teeth on one object, all else as it was.

lib3mf, the reference library of the 3MF Consortium, reads both packages for the comparison.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np
import pytest

from app.panels.job_sheet import HAND_OVER, PART
from app.window import Window
from core.geometry.mesh import Mesh, joined
from tests.files import build
from tests.meshes import box

#: A foot with a ledge on it at z = 4, and a lip over that ledge from z = 5.6 on; mm.
FOOT = box((0, 0, 0), (40, 20, 4))
HOOD = joined([box((0, 12, 3), (40, 20, 20)), box((0, 0, 5.6), (40, 13, 9))])
GAUGE = box((0, 0, 0), (12, 12, 30))
PARTS = [
    ("Metadata/thumbnail.png", b"\x89PNG not really"), ("notes/read me.txt", "hello"),
    ("unknown.bin", bytes(range(256))),
]  # fmt: skip


def painted(mesh: Mesh) -> str:
    """The mesh with two colours on its first facet and a material on the second."""
    text = build.mesh_xml(mesh.vertices, mesh.triangles)
    begin = text.index("<triangles>")
    first, second, rest = text[begin:].split("/>", 2)
    return f'{text[:begin]}{first} pid="10" p1="0" p2="1" p3="0"/>{second} pid="11" p1="0"/>{rest}'


def package(objects: list[tuple[str, Mesh, str]]) -> bytes:
    """Objects with names and transforms, all painted, in a package with metadata and other parts."""
    colours = '<m:colorgroup id="10"><m:color color="#FF0000FF"/><m:color color="#00FF00FF"/></m:colorgroup>'
    base = '<basematerials id="11"><base name="PLA &amp; more" displaycolor="#112233"/></basematerials>'
    metadata = '<metadata name="Designer">A. Rain</metadata>\n<metadata name="LicenseTerms">CC0 &amp; thanks</metadata>'
    named = [
        build.object_xml(i, painted(mesh), f'name="{name}" pid="11" pindex="0" partnumber="W-{i}"')
        for i, (name, mesh, _) in enumerate(objects, 1)
    ]
    items = [f'<item objectid="{i}" transform="{place}"/>' for i, (_, _, place) in enumerate(objects, 1)]
    attributes = f'xmlns:m="{build.MATERIAL}"'
    model = build.model_xml(colours + base + "".join(named), "".join(items), attributes=attributes, metadata=metadata)
    return build.package(model, PARTS)


STILL, MIRRORED = "1 0 0 0 1 0 0 0 1 0 0 0", "-1 0 0 0 1 0 0 0 1 40 0 0"
ASIDE, BEHIND = "1 0 0 0 1 0 0 0 1 70 0 0", "1 0 0 0 1 0 0 0 1 0 60 0"


def described(path: Path) -> dict[str, Any]:
    """What the reference library finds in a package."""
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    out: dict[str, Any] = {"metadata": [], "items": [], "colours": model.GetColorGroups().Count()}
    out["materials"] = model.GetBaseMaterialGroups().Count()
    group = model.GetMetaDataGroup()
    for i in range(group.GetMetaDataCount()):
        out["metadata"].append((group.GetMetaData(i).GetName(), group.GetMetaData(i).GetValue()))
    objects = model.GetMeshObjects()
    while objects.MoveNext():
        mesh = objects.GetCurrentMeshObject()
        vertices = [tuple(v.Coordinates) for v in mesh.GetVertices()]
        triangles = [tuple(t.Indices) for t in mesh.GetTriangleIndices()]
        colours = [(p.ResourceID, tuple(p.PropertyIDs)) for p in map(mesh.GetTriangleProperties, range(len(triangles)))]
        out[mesh.GetName()] = (vertices, triangles, colours, mesh.GetPartNumber(), mesh.IsManifoldAndOriented())
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        out["items"].append((item.GetObjectResourceID(), np.array(item.GetObjectTransform().Fields).tolist()))
    return out


def entries(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as file:
        assert file.testzip() is None
        return {i.filename: file.read(i) for i in file.infolist()}


def unlike(before: dict[str, Any], after: dict[str, Any], changed: str) -> tuple[Any, Any]:
    """The object that changed, before and after; everything else must be equal."""
    assert {k: v for k, v in after.items() if k != changed} == {k: v for k, v in before.items() if k != changed}
    return before[changed], after[changed]


def hand_over(window: Window, until: Callable[..., None]) -> None:
    """Take the gap under the lip and hand over beside the original."""
    found = window.bench.results.inspection
    gap = min(found.gaps, key=lambda g: abs(g.span.gap_range[0] - 1.6))
    assert gap.span.gap_range[0] == pytest.approx(1.6, abs=0.01)
    window.bench.take_gap(gap.id)
    until(lambda: window.bench.draft_design() is not None)
    window.quick_hand_over()


@pytest.mark.parametrize("place", [STILL, MIRRORED])
def test_three_objects_come_back_with_teeth_on_one(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path, place: str
) -> None:
    original = tmp_path / "weather station.3mf"
    station = joined([FOOT, HOOD])
    original.write_bytes(package([
        ("hood with its foot", station, place), ("weather vane", GAUGE, ASIDE), ("rain gauge", GAUGE, BEHIND),
    ]))  # fmt: skip
    window = opened(original)
    window.sheet.unfold(PART)
    assert "Designer: A. Rain" in window.sheet.bodies[PART].metadata.text()
    assert "LicenseTerms: CC0 & thanks" in window.sheet.bodies[PART].metadata.text()
    hand_over(window, until)
    until(lambda: window.bench.results.handed is not None)
    assert window.bench.results.handed.lossless
    written = tmp_path / "weather station_with_teeth.3mf"
    assert "The teeth are in object 1 (“hood with its foot”)." in window.sheet.bodies[HAND_OVER].done.text()

    before, after = entries(original), entries(written)
    assert list(before) == list(after)
    assert {n for n in before if before[n] != after[n]} == {"3D/3dmodel.model"}
    kept, new = unlike(described(original), described(written), "hood with its foot")
    assert [len(part) for part in (kept[0], kept[1])] == [24, 36]
    assert new[0][:24] == kept[0]
    assert new[1][:36] == kept[1]
    assert new[2][:36] == kept[2]
    assert new[3] == kept[3]
    assert new[4], "closed and outward, as the core specification wants an object of type model"
    teeth = np.array(new[0][24:])
    design = window.bench.row_design(window.bench.job.rows[0])
    assert len(teeth) == sum(len(solid.vertices) for solid in design.solids())
    x = teeth[:, 0] if place == STILL else 40 - teeth[:, 0]  # on the plate
    assert 0 <= x.min() < x.max() <= 40
    assert 3.5 < teeth[:, 2].min() < 4.0  # sunk into the ledge
    assert 5.6 < teeth[:, 2].max() < 6.1  # and into the lip


def test_the_window_asks_which_of_two_objects_gets_the_teeth(
    opened: Callable[[Path], Window], until: Callable[..., None], tmp_path: Path
) -> None:
    """Foot and hood are objects, and the foot is placed twice: two questions, each answered by a button."""
    original = tmp_path / "two.3mf"
    data = package([("hood", HOOD, STILL), ("foot", FOOT, STILL), ("rain gauge", GAUGE, ASIDE)])
    twice = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 90 0"/></build>'
    text = zipfile.ZipFile(io.BytesIO(data)).read("3D/3dmodel.model").decode().replace("</build>", twice)
    original.write_bytes(build.package(text, PARTS))
    window = opened(original)
    hand_over(window, until)
    until(lambda: window.banner.isVisible() and set(window.banner.buttons) == {"object:1", "object:2"})
    assert "1 (“hood”)" in window.banner.text.text()
    assert window.banner.buttons["object:2"].text() == "Object 2"
    window.banner.buttons["object:2"].click()
    until(lambda: window.banner.isVisible() and set(window.banner.buttons) == {"all", "copy"})
    assert "Object 2 (“foot”) is placed 2 times." in window.banner.text.text()
    window.banner.buttons["copy"].click()
    until(lambda: window.bench.results.handed is not None)
    before, after = described(original), described(tmp_path / "two_with_teeth.3mf")
    for name in ("hood", "rain gauge", "metadata", "colours", "materials"):
        assert after[name] == before[name]
    assert len(after["items"]) == len(before["items"]) == 4
    assert len({number for number, _ in after["items"]}) == len({number for number, _ in before["items"]}) + 1
