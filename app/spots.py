"""The list of weak spots and gaps as a person reads it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QCoreApplication

from core.design.wall_area import block_volume
from core.job.pipeline import RowDesign
from core.job.treated import treated_by
from core.units import format_length

if TYPE_CHECKING:
    from app.bench import Bench


@dataclass(frozen=True)
class Entry:
    """One line of the list: a weak spot with its gap, a weak spot alone, or a gap alone."""

    key: str
    title: str
    line: str
    cause: str
    severity: float
    open: bool
    spot: str = ""
    gap: str = ""
    dismissed: bool = False
    row: int = 0  # number of the added row that treats it


def _tr(text: str) -> str:
    return QCoreApplication.translate("Spots", text)


def entries(bench: Bench) -> list[Entry]:
    """What the inspection found, worst first; gaps with enough teeth come last."""
    found, job = bench.results.inspection, bench.job
    if found is None or job is None:
        return []
    treated: dict[str, Any] = dict(treated_by(job, found))
    treated |= {post.gap: post for post in job.posts if post.gap}
    gap_of = {g.weak_spot: g for g in found.gaps if g.weak_spot is not None}
    out = [_spot(bench, spot, gap_of.get(spot.id), treated) for spot in found.weak_spots]
    out += [_gap(bench, gap, treated) for gap in found.gaps if gap.weak_spot is None]
    return sorted(out, key=lambda e: (not e.open, -e.severity))


def _spot(bench: Bench, spot: Any, gap: Any | None, treated: dict[str, Any]) -> Entry:
    unit = bench.view.unit
    dismissed = bool(bench.job and spot.key in bench.job.dismissed)
    done = spot.id in treated or (gap is not None and gap.id in treated)
    names = {
        "island": _tr("Island"), "cantilever": _tr("Cantilever"), "bridge": _tr("Bridge"), "slope": _tr("Slope"),
    }  # fmt: skip
    size = spot.reach if spot.kind == "cantilever" else spot.length  # an island has no finite reach
    title = _tr("{0} {1}, height {2}").format(
        names[spot.kind], format_length(size, unit), format_length(spot.z, unit)
    )
    if dismissed:
        line = _tr("fine as it is")
    elif done:
        line = _walls(bench, spot) or _tr("treated by a row of this job")
    elif gap is not None:
        line = _tr("gap {0}, a row can stand there").format(_gap_words(gap, unit))
    else:
        line = _tr("no ledge below it: a wall can be built")
    return Entry(
        f"{spot.id}:{gap.id if gap else ''}", title, line, gap.cause if gap else "", spot.severity,
        not dismissed and not done, spot.key, gap.id if gap else "", dismissed,
        _row(bench, treated, spot.id, gap.id if gap else ""),
    )  # fmt: skip


def _row(bench: Bench, treated: dict[str, Any], *names: str) -> int:
    """Number of the added row that treats one of these; 0 for none."""
    rows = bench.job.rows if bench.job is not None else ()
    return next((r.number for n in names if (r := treated.get(n)) in rows), 0)


def _walls(bench: Bench, spot: Any) -> str:
    """What the walls below a weak spot take, once they are built."""
    rows = [r for r in (bench.job.rows if bench.job is not None else ()) if r.wall and r.pick.gap == spot.id]
    designs = [bench.row_design(row) for row in rows]
    if not designs or not all(isinstance(d, RowDesign) for d in designs):
        return ""
    volume = sum(solid.volume for d in designs for solid in d.solids())
    words = _tr("a wall, {0} % of a solid block") if len(rows) == 1 else _tr("{1} walls, {0} % of a solid block")
    return words.format(max(round(100 * volume / block_volume(spot, bench.job.limits)), 1), len(rows))


def _gap(bench: Bench, gap: Any, treated: dict[str, Any]) -> Entry:
    unit = bench.view.unit
    way = _tr("Gap") if gap.direction == "up" else _tr("Side gap")
    title = _tr("{0} {1}, {2} long").format(way, _gap_words(gap, unit), format_length(gap.span.length, unit))
    if gap.id in treated:
        line = _tr("treated by a row of this job")
    elif gap.enough and gap.row is None:
        line = _tr("nothing weak asks for teeth here")
    elif gap.enough:
        line = _tr("its teeth are enough")
    else:
        line = _tr("too few teeth")
    waits = not gap.enough and gap.id not in treated
    return Entry(f":{gap.id}", title, line, gap.cause, 0.0, waits, "", gap.id, row=_row(bench, treated, gap.id))


def _gap_words(gap: Any, unit: Any) -> str:
    low, high = gap.span.gap_range
    if high - low < 0.005:
        return format_length(low, unit)
    return f"{format_length(low, unit, with_unit=False)}–{format_length(high, unit)}"
