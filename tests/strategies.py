"""hypothesis strategies for all tests: poses in which nothing is axis-aligned, and spans with known figures.

Import with ``from tests.strategies import rigid_poses``.
"""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.meshes import Comb, Span, bar_over_ledge, comb

F64 = NDArray[np.float64]


def finite(low: float, high: float) -> st.SearchStrategy[float]:
    """A float between two limits, neither infinite nor subnormal."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False, allow_subnormal=False)


def _turn(axis: F64, degrees: float) -> F64:
    """Rotation matrix about a unit axis (Rodrigues' formula)."""
    t = np.radians(degrees)
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(t) * cross + (1 - np.cos(t)) * cross @ cross


@st.composite
def rigid_poses(draw: st.DrawFn, *, shift: float = 200.0) -> F64:
    """A rigid transform (4, 4), mm → mm: any turn about any axis, shifted up to ``shift`` along each axis."""
    z, around = draw(finite(-1, 1)), draw(finite(0, 2 * np.pi))
    flat = np.sqrt(1 - z * z)
    pose = np.eye(4)
    pose[:3, :3] = _turn(np.array([flat * np.cos(around), flat * np.sin(around), z]), draw(finite(0, 360)))
    pose[:3, 3] = [draw(finite(-shift, shift)) for _ in range(3)]
    return pose


@st.composite
def upright_poses(draw: st.DrawFn, *, shift: float = 200.0) -> F64:
    """A rigid transform (4, 4) that keeps +Z up: a turn about the vertical and a shift in all three axes."""
    pose = np.eye(4)
    pose[:3, :3] = _turn(np.array([0.0, 0.0, 1.0]), draw(finite(0, 360)))
    pose[:3, 3] = [draw(finite(-shift, shift)) for _ in range(3)]
    return pose


@st.composite
def bar_spans(draw: st.DrawFn, *, posts: bool = False) -> Span:
    """A bar over a ledge: length 6–120, gap 0.4–6, strip and ledge 0.8–4 wide, the ledge's ends up to 2 off, mm."""
    length = draw(finite(6, 120))
    return bar_over_ledge(
        length,
        draw(finite(0.4, 6)),
        strip=draw(finite(0.8, 4)),
        ledge=draw(finite(0.8, 4)),
        overlap=(draw(finite(-2, 2)), draw(finite(-2, 2))),
        ledge_top=draw(finite(3, 30)),
        posts=posts,
    )


@st.composite
def combs(draw: st.DrawFn) -> Comb:
    """Three to twelve straight teeth as a designer would stand them; feet never touch, mm."""
    teeth = draw(st.integers(3, 12))
    tip = draw(finite(0.4, 1.0))
    foot = tip + draw(finite(0.1, 1.6))
    pitch = foot + draw(finite(0.6, 3.0))
    return comb(
        teeth,
        pitch,
        foot=foot,
        tip=tip,
        height=draw(finite(0.6, 4.0)),
        thickness=draw(finite(0.5, 2.0)),
        length=pitch * (teeth - 1) + foot + draw(finite(1.0, 6.0)),
    )
