"""What an inspection says about pieces, sent between processes: once, whole, and again when it was let go."""

from __future__ import annotations

import gc
from pathlib import Path

import numpy as np

from app.work.wire import Locker
from core.diagnose.sacrificial import Piece, Split
from core.job.holding import Known


def split(count: int) -> Split:
    pieces = (Piece("piece-0", (0,), True, "thin"), Piece("piece-9", (1,), False, "the largest"))
    return Split(pieces, (np.arange(count) % 2).astype(np.int64))


def test_a_split_arrives_whole_and_travels_once(tmp_path: Path) -> None:
    here, there = Locker(tmp_path), Locker(tmp_path)
    sent = Known((), split(300_000))
    first, second = (there.loads(here.dumps(("prove", sent))) for _ in range(2))
    assert first[1].split is second[1].split  # caches keyed by it stay good
    assert first[1].split.pieces == sent.split.pieces
    assert first[1].split.label.dtype == np.int64
    assert np.array_equal(first[1].split.label, sent.split.label)
    assert len(list(tmp_path.glob("*.split"))) == 1
    assert len(here.dumps(("prove", sent))) < 2000


def test_a_split_that_was_let_go_is_read_again(tmp_path: Path) -> None:
    here, there = Locker(tmp_path), Locker(tmp_path)
    sent = split(1000)
    message = here.dumps(sent)
    there.loads(message)
    gc.collect()
    assert np.array_equal(there.loads(message).label, sent.label)


def test_a_part_without_triangles_has_a_split_too(tmp_path: Path) -> None:
    here, there = Locker(tmp_path), Locker(tmp_path)
    assert len(there.loads(here.dumps(Split((), np.zeros(0, np.int64)))).label) == 0
