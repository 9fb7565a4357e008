"""Single posts of a job on a newer revision of its part: they follow no edge, so they go where the part went.

A post is kept only where an underside lies at its place; one that would end somewhere else is left out and told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from core.errors import SnapcombError
from core.geometry.mesh import F64
from core.geometry.register import Motion
from core.geometry.relocate import RESIDUAL
from core.job.job import Job, PostPick
from core.job.pipeline import Pipeline
from core.job.row_again import SAME_LINE, RowFound


def posts_again(
    job: Job, base: Job, motions: Sequence[Motion], pipeline: Pipeline
) -> list[tuple[PostPick | None, RowFound]]:
    """Every post on the new part, or None, and what became of it; ``base`` is the job on the new part."""
    return [_again(post, base, motions, pipeline) for post in job.posts]


def posts_gone(job: Job, why: str) -> tuple[RowFound, ...]:
    """All posts, left out for one reason."""
    return tuple(RowFound(post.number, "gone", why, kind="post") for post in job.posts)


def _again(
    post: PostPick, base: Job, motions: Sequence[Motion], pipeline: Pipeline
) -> tuple[PostPick | None, RowFound]:
    places = [_carried(motion, post.at) for motion in motions]
    if any(np.linalg.norm(place - places[0]) > SAME_LINE for place in places):
        text = f"the part fits in {len(motions)} ways that put this post in different places"
        return None, RowFound(post.number, "ambiguous", text, kind="post")
    x, y, z = (float(c) for c in places[0])
    moved = replace(post, at=(x, y, z))
    try:
        under = pipeline.post(base, moved).at[2]
    except SnapcombError as problem:
        words = f"its place is there, but {problem.what[0].lower()}{problem.what[1:]}".rstrip(".")
        return None, RowFound(post.number, "gone", words, kind="post")
    off = float(under - base.pose.apply(places[0])[2])
    if abs(off) > RESIDUAL:
        way = "higher" if off > 0 else "lower"
        words = f"the underside at its place is {abs(off):.2f} mm {way} now"
        return moved, RowFound(post.number, "changed", words, residual=abs(off), kind="post")
    if motions[0].still:
        return moved, RowFound(post.number, "matched", "where it was", residual=abs(off), kind="post")
    return moved, RowFound(post.number, "moved", "moved with the part", residual=abs(off), kind="post")


def _carried(motion: Motion, at: Sequence[float]) -> F64:
    return np.asarray(motion.matrix[:3, :3] @ np.array(at) + motion.matrix[:3, 3])
