"""The samples as parts, read with trimesh, with their truth."""

import json
from functools import lru_cache
from importlib.resources import files

import numpy as np
import trimesh

from core.geometry.mesh import Mesh
from core.geometry.part import Part
from core.geometry.weld import weld
from core.units import MM_PER

SAMPLES = files("samples")
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))["samples"]
PLAIN = sorted(name for name in TRUTH if TRUTH[name]["file"].endswith(".stl"))


def single(mesh):
    """Rounded to single precision, as a file would."""
    return Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.triangles)


@lru_cache(maxsize=4)
def part_of(name):
    """A sample as a part, in the unit that the truth file says."""
    truth = TRUTH[name]
    raw = trimesh.load(str(SAMPLES / truth["file"]), process=False).triangles
    vertices, triangles = weld(np.ascontiguousarray(raw, np.float32))
    return Part(name, Mesh(vertices.astype(np.float64) * MM_PER[truth["unit"]], triangles), truth["unit"], True)
