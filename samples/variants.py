"""The same facets in other file formats, written plainly, so that readers can be tried on the samples.

Corners are float32 and written with nine digits, which brings every float32 back exactly (IEEE 754).
"""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
ZIP_TIME = (2020, 1, 1, 0, 0, 0)  # a fixed date, so that the archive is the same every time

CONTENT_TYPES = """<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"""
RELATIONS = """<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"""
NAMESPACE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def indexed(corners: F32) -> tuple[F32, NDArray[np.int64]]:
    """Points (n, 3) and triangles (m, 3) of facets (m, 3, 3); equal corners become one point."""
    points, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    return points, index.reshape(-1, 3)


def _rows(points: F32, pattern: str) -> str:
    return "\n".join(pattern % tuple(f"{v:.9g}" for v in p) for p in points.tolist())


def write_obj(path: Path, corners: F32) -> None:
    """Wavefront OBJ: v and f lines."""
    points, triangles = indexed(corners)
    faces = "\n".join(f"f {a} {b} {c}" for a, b, c in (triangles + 1).tolist())
    path.write_text(f"# garden weather station\n{_rows(points, 'v %s %s %s')}\n{faces}\n", encoding="ascii")


def write_ply(path: Path, corners: F32) -> None:
    """Binary little-endian PLY."""
    points, triangles = indexed(corners)
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment garden weather station\n"
        f"element vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.zeros(len(triangles), dtype=[("count", "u1"), ("index", "<i4", 3)])
    faces["count"], faces["index"] = 3, triangles
    path.write_bytes(head.encode("ascii") + points.astype("<f4").tobytes() + faces.tobytes())


def write_3mf(path: Path, corners: F32, unit: str = "millimeter") -> None:
    """3MF, core specification: one object of type "model", one build item."""
    points, triangles = indexed(corners)
    vertices = _rows(points, '<vertex x="%s" y="%s" z="%s"/>')
    faces = "\n".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles.tolist())
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<model unit="{unit}" xml:lang="en-US" xmlns="{NAMESPACE}">\n'
        '<resources>\n<object id="1" type="model">\n<mesh>\n'
        f"<vertices>\n{vertices}\n</vertices>\n<triangles>\n{faces}\n</triangles>\n"
        '</mesh>\n</object>\n</resources>\n<build><item objectid="1"/></build>\n</model>\n'
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in (
            ("[Content_Types].xml", CONTENT_TYPES),
            ("_rels/.rels", RELATIONS),
            ("3D/3dmodel.model", model),
        ):
            archive.writestr(zipfile.ZipInfo(name, ZIP_TIME), text, zipfile.ZIP_DEFLATED)
