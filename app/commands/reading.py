"""From the paths that a person names to parts in their print pose."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import UnreadableFile

if TYPE_CHECKING:
    from core.design.setup import PrintSetup
    from core.geometry.part import Part
    from core.geometry.pose import Pose
    from core.job.job import Job
    from core.units import UnitName

#: Endings of our own mesh formats.
MESH_SUFFIXES = (".stl", ".obj", ".ply", ".3mf")


def mesh_suffixes() -> tuple[str, ...]:
    """Endings of all formats that are read, those of other packages last."""
    from core.files.formats import added_suffixes

    return (*MESH_SUFFIXES, *added_suffixes())


def mesh_files(paths: Sequence[Path]) -> list[Path]:
    """The files named; a folder stands for the mesh files in it, by name. Raises UnreadableFile for an empty folder."""
    out: list[Path] = []
    for path in paths:
        if not path.is_dir():
            out.append(path)
            continue
        try:
            found = sorted(p for p in path.iterdir() if p.suffix.lower() in mesh_suffixes() and p.is_file())
        except OSError as error:
            raise UnreadableFile(f"The folder “{path}” cannot be read.", "Check its permissions.") from error
        if not found:
            kinds = ", ".join(s.lstrip(".").upper() for s in mesh_suffixes())
            raise UnreadableFile(f"There is no mesh file in the folder “{path}”.", f"Snapcomb reads {kinds}.")
        out += found
    return out


def read_job(
    path: Path, setup: PrintSetup, unit: UnitName | None, up: str | tuple[float, float, float], choice: str | None
) -> Job:
    """A fresh job on a mesh file, in the pose asked for. Raises what reading raises, and BadValue for a direction."""
    from dataclasses import replace

    from core.files.read import read_part
    from core.job.job import new_job

    job = new_job(read_part(path, unit, choice=choice), setup)
    return job if up == "file" else replace(job, pose=_pose(job.part, setup, up))


def _pose(part: Part, setup: PrintSetup, up: str | tuple[float, float, float]) -> Pose:
    """The best resting pose for the word "auto", else the one in which that direction is up."""
    from core.diagnose.resting import resting_poses
    from core.geometry.pose import up_is

    if not isinstance(up, str):
        return up_is(part.mesh, up)
    return resting_poses(part.mesh, setup, topology=part.topology)[0].pose
