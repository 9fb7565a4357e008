"""What ``apply --to`` tells: what became of every row on a newer revision, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.commands.output import say, table

if TYPE_CHECKING:
    from core.job.revision import Revision
    from core.job.row_again import Figures, RowFound

COLUMNS = ("row", "what became of it", "span was", "is", "gap was", "is", "off by mm")


def print_revision(revision: Revision) -> None:
    """How the part moved, and every row as it was and as it is."""
    for note in revision.notes:
        print(note)
    table(COLUMNS, [_line(row) for row in revision.rows])


def say_rows(revision: Revision) -> None:
    """What needs a person, beside the results."""
    for row in revision.rows:
        if row.status not in ("matched", "moved"):
            say(f"{row.kind.capitalize()} {row.number} is {row.status}: {row.words}.")


def _line(row: RowFound) -> tuple[str, ...]:
    was, now = _figures(row.before), _figures(row.after)
    off = f"{row.residual:.2f}" if row.kept else ""
    name = str(row.number) if row.kind == "row" else f"post {row.number}"
    return (name, f"{row.status}: {row.words}", was[0], now[0], was[1], now[1], off)


def _figures(f: Figures | None) -> tuple[str, str]:
    if f is None:
        return "", ""
    low, high = f"{f.low:.2f}", f"{f.high:.2f}"
    return f"{f.length:.2f}", low if low == high else f"{low} to {high}"


def revision_json(revision: Revision) -> dict[str, Any]:
    """The same as plain data; lengths mm, ``motion`` (old file mm → new file mm) 4 × 4 or null."""
    motion = revision.motion
    return {
        "motion": None if motion is None else [[round(float(x), 9) for x in row] for row in motion.matrix],
        "edges_found": None if motion is None else round(motion.share, 4),
        "residual_mm": None if motion is None else round(motion.residual, 4),
        "notes": list(revision.notes),
        "rows": [
            {
                "row": r.number, "kind": r.kind, "status": r.status, "what": r.words, "moved_mm": round(r.way, 4),
                "residual_mm": round(r.residual, 4), "before": _plain(r.before), "after": _plain(r.after),
                "choices": [[[round(c, 4) for c in p] for p in pick.edge.points] for pick in r.choices],
            }
            for r in revision.rows
        ],
    }  # fmt: skip


def _plain(f: Figures | None) -> dict[str, Any] | None:
    if f is None:
        return None
    return {
        "direction": f.direction, "length_mm": round(f.length, 4), "gap_min_mm": round(f.low, 4),
        "gap_max_mm": round(f.high, 4),
    }  # fmt: skip
