"""A tooth row of the trade, entered in inches and measured back from the file that was handed over."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.design.plan import RowWishes
from core.design.setup import PrintSetup
from core.diagnose.inspection import inspect_part
from core.files.read import read_part
from core.files.write import write_part
from core.geometry.polyline import Polyline
from core.job.hand_over import hand_over
from core.job.job import Pick, add_rows, new_job
from core.job.pipeline import Pipeline
from core.units import parse_length
from tests import meshes

# Common practice, no source: foot 0.082 in, tip 0.006 in, thickness 0.02 in, arc flanks, eleven teeth, symmetric on one
# edge of a part about 6.5 in wide.
FOOT, TIP, THICKNESS, TEETH, WIDTH = "0.082 in", "6 thou", "0.02 in", 11, "6.5 in"


@pytest.mark.parametrize("bond", ["shells", "skin"])
def test_the_row_comes_back_from_the_file_as_it_was_entered(tmp_path: Path, bond: str) -> None:
    made = meshes.bar_over_ledge(parse_length(WIDTH), 1.2, posts=True)
    path, out = tmp_path / "part.stl", tmp_path / "out.stl"
    write_part(made.mesh, path, unit="inch", name="part")
    part = read_part(path, "inch")
    wishes = RowWishes(
        shape="arc_tip", teeth=TEETH, foot=parse_length(FOOT), tip=parse_length(TIP), thickness=parse_length(THICKNESS)
    )
    job = add_rows(new_job(part, PrintSetup()), ((Pick(Polyline.of(made.edge)), wishes),))
    job = type(job)(**{**job.__dict__, "bond": bond})
    hand_over(job, out, Pipeline())
    ledge, edge = 10.0, 11.2
    near = 5e-4  # just inside the gap, where only the teeth and the two posts are cut
    feet, tips = (widths(out, z) for z in (ledge + near, edge - near))
    assert len(feet) == len(tips) == TEETH
    # One flank runs 4.5 mm along per mm up at the foot of this arc, so a cut half a micrometre up is 0.005 mm narrower.
    np.testing.assert_allclose(feet[:, 0], 0.082 * 25.4, atol=0.006)
    np.testing.assert_allclose(tips[:, 0], 0.006 * 25.4, atol=0.001)
    np.testing.assert_allclose(np.r_[feet[:, 1], tips[:, 1]], 0.02 * 25.4, atol=0.001)
    np.testing.assert_allclose(feet[:, 2] + feet[::-1, 2], parse_length(WIDTH), atol=0.01)  # symmetric
    found = inspect_part(read_part(out, "inch"), job.pose, PrintSetup(clear_bridge=20.0))
    row = max(found.rows, key=lambda r: r.teeth)
    assert (row.teeth, row.shape) == (TEETH, "arc_tip")


def widths(path: Path, height: float) -> np.ndarray:
    """Width along x, thickness and middle (n, 3), mm, of every tooth that a plane at ``height`` (mm) cuts, along x."""
    mesh = trimesh.load(path)
    mesh.apply_scale(25.4)
    flat, _ = mesh.section([0, 0, 1], [0, 0, height]).to_2D(
        to_2D=trimesh.transformations.translation_matrix([0, 0, -height])
    )
    boxes = np.array([p.bounds for p in flat.polygons_full])
    sizes = np.column_stack([boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1], (boxes[:, 0] + boxes[:, 2]) / 2])
    teeth = sizes[sizes[:, 1] < 1.0]  # the posts are thicker
    return teeth[np.argsort(teeth[:, 2])]
