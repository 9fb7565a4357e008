"""Whatever the span and however small the panel: true to scale, and no figure lies on another or is cut off."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.panels.elevation import Survival, elevation_model, span_section
from app.panels.elevation.choose_figures import figures_of
from app.panels.elevation.figures import Figures, Focus, Rulers
from app.panels.elevation.handles import handle_at, layer_at
from app.panels.elevation.sheet import Rect, View, fitted
from core.design.plan import RowWishes, plan_row
from core.errors import PlanRefused
from tests.app.elevation import parts

# Widths measured once on the bundled faces would tie the test to them; these are wider than both.
RULERS = Rulers(lambda text: 7.6 * len(text), lambda text: 7.2 * len(text), 10.0)
MAKERS = [
    parts.straight, parts.ridge, parts.sloping, parts.rising_edge, parts.ring, parts.with_teeth, parts.sideways,
    lambda: parts.straight(3.0), lambda: parts.straight(8.0), lambda: parts.straight(300.0),
]  # fmt: skip


def laid_out(make, wishes, size, *, survival=(), focus=None, unit="millimeter") -> tuple[View, Figures]:
    case = make()
    plan = plan_row(case.span, wishes, case.setup, case.standing)
    model = elevation_model(
        case.span, plan, wishes, case.setup, section=_section(make), standing=case.standing, survival=survival
    )
    view = fitted(model, Rect(0, 0, *size))
    return view, figures_of(view, RULERS, unit, focus)


_kept: dict[object, object] = {}


def _section(make):
    if make not in _kept:
        _kept[make] = span_section(make().mesh, make().span)
    return _kept[make]


def texts(figures: Figures):
    return [d.field for d in figures.dimensions] + [n.field for n in figures.labels] + [n.field for n in figures.notes]


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    which=st.integers(0, len(MAKERS) - 1),
    width=st.integers(400, 2400),
    height=st.integers(130, 420),
    shape=st.sampled_from(["straight", "arc_tip", "arc_ledge", "rake", "post"]),
    lost=st.sets(st.integers(0, 14)),
    selected=st.one_of(st.none(), st.integers(0, 10)),
    moved=st.floats(-1.5, 1.5),
    unit=st.sampled_from(["millimeter", "inch"]),
    zoom=st.floats(0.6, 12.0),
)
def test_no_figure_lies_on_another(which, width, height, shape, lost, selected, moved, unit, zoom):
    wishes = RowWishes(shape=shape, moved=((2, moved),))
    fates = {n: Survival("will not print" if n % 2 else "lost layers", 2) for n in lost}
    try:
        view, figures = laid_out(
            MAKERS[which], wishes, (width, height), survival=fates, focus=Focus(selected=selected), unit=unit
        )
    except PlanRefused:
        return
    for v in (
        view,
        View(view.model, view.sheet.zoomed(zoom, width / 2, height / 2), view.field, view.above, view.below),
    ):
        found = figures_of(v, RULERS, unit, Focus(selected=selected))
        for a, b in itertools.combinations(texts(found), 2):
            assert not a.meets(b), (found, a, b)
        for field in texts(found):
            assert field.left >= v.field.left
            assert field.right <= v.field.right
            assert field.top >= v.field.top - 1
            assert field.bottom <= v.field.bottom + 4
    assert figures.dimensions


@pytest.mark.parametrize("size", [(1096, 168), (700, 168), (1400, 300), (500, 600)])
@pytest.mark.parametrize("make", MAKERS)
def test_true_to_scale(make, size):
    """A millimetre along the span and one across it take as many pixels, and what is drawn measures what it is."""
    view, figures = laid_out(make, RowWishes(), size)
    sheet = view.sheet
    assert sheet.x(11.0) - sheet.x(10.0) == pytest.approx(sheet.y(10.0) - sheet.y(11.0))
    for dimension in figures.dimensions:
        if dimension.key in ("shift",) or dimension.visible:
            continue
        assert dimension.length == pytest.approx(abs(dimension.value) * sheet.scale, abs=1e-6), dimension.key
    assert sheet.x(view.model.profile.extent[0]) >= view.field.left
    assert sheet.x(view.model.profile.extent[1]) <= view.field.right
    low, high = view.model.z_range
    assert view.field.top <= sheet.y(high) <= sheet.y(low) <= view.field.bottom


def test_the_figures_of_the_everyday_case():
    """Span 72, gap 2.4 by construction; 15 teeth at (72 − 2 − 0.45)/14 = 4.968, clear 4.518 (calculated)."""
    _, figures = laid_out(parts.straight, RowWishes(), (1096, 168))
    shown = {d.key: d.text for d in figures.dimensions}
    assert shown == {
        "length": "72.00", "gap": "2.40", "end_left": "1.00", "end_right": "1.00", "pitch": "4.97", "foot": "2.00",
        "clear": "4.52",
    }  # fmt: skip
    assert [n.text for n in sorted(figures.labels, key=lambda n: n.centre)] == ["1", "5", "10", "15"]


def test_figures_in_inches():
    """72 mm are 2.8346 in (25.4 mm to the inch)."""
    _, figures = laid_out(parts.straight, RowWishes(), (1096, 168), unit="inch")
    assert figures.dimension("length").text == "2.8346"


def test_too_long_a_bridge_is_shown_in_the_attention_colour():
    _, figures = laid_out(parts.straight, RowWishes(left_out=(6,)), (1096, 168))
    over = figures.dimension("over:0")
    assert over.ink == "attention_text"
    assert over.value > 4.6


def test_a_varying_gap_is_measured_at_both_ends():
    """16.4 to 13.2 high along 60 mm below an edge at 18, by construction."""
    _, figures = laid_out(parts.sloping, RowWishes(), (1096, 240))
    assert figures.dimension("gap").value == pytest.approx(1.6, abs=0.02)
    assert figures.dimension("gap_far").value == pytest.approx(4.8, abs=0.02)


def test_words_under_what_does_not_print():
    fates = {n: Survival("will not print") for n in (11, 12)} | {3: Survival("lost layers", 1)}
    _, figures = laid_out(parts.straight, RowWishes(), (1096, 168), survival=fates)
    assert [n.text for n in figures.notes] == ["will not print"]
    assert len(figures.notes[0].leaders) == 2
    assert {"12", "13"} <= {n.text for n in figures.labels if n.ink == "attention_text"}


def test_every_tooth_and_corner_is_under_its_own_pixel():
    view, figures = laid_out(parts.straight, RowWishes(), (1400, 240))
    sheet = view.sheet
    for tooth in view.model.teeth:
        inside = handle_at(view, sheet.x(tooth.centre), sheet.y(16.6), figures.fields())
        assert (inside.kind, inside.number) == ("tooth", tooth.number)
        for kind, u, z in (
            ("foot_left", tooth.foot[0], 15.6), ("foot_right", tooth.foot[1], 15.6),
            ("tip_left", tooth.tip[0], 18.0), ("tip_right", tooth.tip[1], 18.0),
        ):  # fmt: skip
            found = handle_at(view, sheet.x(u), sheet.y(z), figures.fields())
            assert (found.kind, found.number) == (kind, tooth.number)
    assert handle_at(view, sheet.x(2.5 + view.model.teeth[0].centre), sheet.y(16.6), figures.fields()) is None


def test_small_teeth_have_no_corners_but_can_be_taken():
    view, _ = laid_out(lambda: parts.straight(300.0), RowWishes(), (1096, 168))
    tooth = view.model.teeth[20]
    found = handle_at(view, view.sheet.x(tooth.foot[0]) + 1, view.sheet.y(15.7))
    assert (found.kind, found.number) == ("tooth", 20)


@pytest.mark.parametrize(("make", "axis"), [(parts.straight, "z"), (parts.sideways, "u")])
def test_the_rule_names_the_layer_under_it(make, axis):
    view, _ = laid_out(make, RowWishes(), (1096, 240))
    layers = view.model.layers
    assert layers.axis == axis
    for number, top in zip(layers.numbers[1:], layers.at[1:], strict=True):
        inside = top - 0.1
        x, y = (view.sheet.x(inside), 0.0) if axis == "u" else (0.0, view.sheet.y(inside))
        assert layer_at(view, x, y) == number
