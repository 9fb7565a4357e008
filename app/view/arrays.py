"""Numpy arrays as VTK data, without copying them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData


def points(vertices: NDArray[np.floating]) -> vtkPoints:
    """Points that share the memory of a contiguous (n, 3) array; VTK keeps the array alive."""
    out = vtkPoints()
    out.SetData(numpy_to_vtk(vertices))
    return out


def cells(index: NDArray[np.int32]) -> vtkCellArray:
    """Cells of equal size, (m, 2) lines or (m, 3) triangles, that share the memory of ``index``."""
    out = vtkCellArray()
    flat = np.ascontiguousarray(index, dtype=np.int32)
    out.SetData(flat.shape[1], numpy_to_vtk(flat.reshape(-1)))
    return out


def surface(vertices: NDArray[np.floating], triangles: NDArray[np.int32]) -> vtkPolyData:
    """A triangle mesh for VTK."""
    out = vtkPolyData()
    out.SetPoints(points(vertices))
    out.SetPolys(cells(triangles))
    return out


def lines(vertices: NDArray[np.floating], pairs: NDArray[np.int32]) -> vtkPolyData:
    """Lines (k, 2) between vertices, for VTK."""
    out = vtkPolyData()
    out.SetPoints(points(vertices))
    out.SetLines(cells(pairs))
    return out


def loose_lines(segments: NDArray[np.floating]) -> vtkPolyData:
    """Lines given by their end points, (k, 2, 3)."""
    ends = np.ascontiguousarray(segments, dtype=np.float32).reshape(-1, 3)
    return lines(ends, np.arange(len(ends), dtype=np.int32).reshape(-1, 2))


def rgb(colour: str) -> tuple[float, float, float]:
    """Red, green and blue, 0…1, of ``#RRGGBB``."""
    red, green, blue = (int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5))
    return red, green, blue
