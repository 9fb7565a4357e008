"""Real mouse and keys at every handle, from the press to the plan that comes of it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.panels.elevation import Survival
from core.design.plan import RowWishes
from tests.app.elevation import parts
from tests.app.elevation.bench import ALT, CTRL, MIDDLE, SHIFT

K = Qt.Key


def test_hover_lights_and_tells(bench):
    b = bench()
    b.move(b.on_tooth(4), button=None)
    b.move(b.on_tooth(5), button=None)
    b.move(b.at(36.0, 25.0), button=None)
    assert b.heard.hovered == [4, 5, None]
    b.move(b.on_tooth(4), button=None)
    assert b.canvas.cursor().shape() == Qt.CursorShape.SizeHorCursor


def test_a_click_selects_and_drags_nothing(bench):
    b = bench()
    b.click(b.on_tooth(4))
    assert b.heard.selected == [4]
    b.click(b.at(2.3, 25.0))
    assert b.heard.selected == [4, None]
    assert b.heard.started == b.heard.previews == b.steps == []


def test_a_tooth_is_pulled_in_one_step(bench):
    b = bench()
    before = b.tooth(5).centre
    b.drag(b.on_tooth(5), (14, 0), CTRL)
    assert b.heard.started == ["Move tooth 6"]
    assert len(b.heard.previews) > 3
    assert b.heard.ended == [True]
    assert len(b.steps) == 1
    assert b.heard.edits == []
    assert b.tooth(5).centre - before == pytest.approx(14 / b.view.sheet.scale, abs=0.011)
    assert b.tooth(6).centre - before == pytest.approx(b.plan.pitch)


def test_the_picture_follows_while_pulling(bench):
    b = bench()
    start = b.on_tooth(5)
    b.drag(start, (12, 0), CTRL, release=False)
    assert b.view.sheet.x(b.tooth(5).centre) == pytest.approx(start.x() + 12, abs=1)
    assert b.canvas.figures.dimension("clear_left").strong
    assert b.canvas.figures.dimension("shift").text.startswith("+")
    b.release(start + QPoint(12, 0))


def test_escape_gives_a_drag_up(bench):
    b = bench()
    before = b.tooth(5).centre
    start = b.on_tooth(5)
    b.drag(start, (14, 0), release=False)
    b.key(K.Key_Escape)
    assert b.heard.ended == [False]
    assert b.tooth(5).centre == pytest.approx(before)
    assert b.wishes == RowWishes()
    b.move(start + QPoint(30, 0))
    b.release(start + QPoint(30, 0))
    assert b.heard.ended == [False]
    assert b.steps == []


def test_pulled_back_to_where_it_was_is_no_step(bench):
    b = bench()
    start = b.on_tooth(5)
    b.drag(start, (14, 0), CTRL, release=False)
    b.move(start, CTRL)
    b.release(start, CTRL)
    assert b.heard.ended == [False]
    assert b.steps == []


def test_shift_pulls_in_tenths(bench):
    b = bench()
    b.drag(b.on_tooth(5), (13, 0), SHIFT)
    shift = dict(b.wishes.moved)[5]
    assert shift == pytest.approx(round(shift, 1))


def test_snapping_to_the_place_in_the_row_and_its_key(bench):
    b = bench(wishes=RowWishes(moved=((5, 1.2),)))
    back = -b.px(1.2) + 2
    b.drag(b.on_tooth(5), (back, 0))
    assert b.wishes.moved == ()
    b = bench(wishes=RowWishes(moved=((5, 1.2),)))
    b.drag(b.on_tooth(5), (back, 0), CTRL)
    assert b.wishes.moved != ()


@pytest.mark.parametrize(("which", "field", "by"), [(0, "start", 60), (1, "stop", -60)])
def test_end_stops_trim_the_span(bench, which, field, by):
    b = bench()
    b.drag(b.on_stop(which), (by, 0))
    assert len(b.steps) == 1
    assert getattr(b.wishes, field) == pytest.approx(60 / b.view.sheet.scale, abs=0.02)
    assert b.canvas.figures.dimension("length").value == pytest.approx(72 - getattr(b.wishes, field))


@pytest.mark.parametrize(
    ("kind", "u", "z", "by"), [("foot", 1, 15.6, 5), ("foot", 0, 15.6, -5), ("tip", 1, 18.0, 6), ("tip", 0, 18.0, -6)]
)
def test_corners_change_foot_and_tip_of_all(bench, kind, u, z, by):
    b = bench(size=(1500, 260))
    tooth = b.tooth(6)
    before = getattr(b.plan, kind)
    place = (tooth.foot if kind == "foot" else tooth.tip)[u]
    b.drag(b.at(place, z), (by, 0), CTRL)
    after = getattr(b.plan, kind)
    assert after - before == pytest.approx(2 * abs(by) / b.view.sheet.scale, abs=0.13)
    assert len(b.steps) == 1


def test_alt_pulls_the_pitch_and_the_others_follow(bench):
    b = bench()
    b.drag(b.on_tooth(14), (-42, 0), ALT)
    assert b.heard.started == ["Change the pitch"]
    assert b.wishes.pitch == pytest.approx(b.plan.pitch)
    assert b.plan.pitch == pytest.approx(4.968 - 42 / b.view.sheet.scale / 7, abs=0.01)
    assert b.tooth(0).centre + b.tooth(14).centre == pytest.approx(72.0, abs=1e-3)


def test_alt_on_a_row_between_standing_teeth_says_why_not(bench):
    b = bench(parts.with_teeth())
    b.drag(b.on_tooth(3), (20, 0), ALT)
    assert b.heard.started == []
    assert "no pitch of their own" in b.heard.refused[-1]


def test_delete_leaves_out_and_insert_puts_back(bench):
    b = bench()
    b.click(b.on_tooth(4))
    b.key(K.Key_Delete)
    assert b.wishes.left_out == (4,)
    assert b.heard.edits[-1][0] == "Leave out tooth 5"
    assert b.canvas.selected_tooth == 5
    b.key(K.Key_Insert)
    assert b.wishes.left_out == ()
    assert len(b.steps) == 2


def test_double_click_on_the_empty_place_puts_the_tooth_back(bench):
    b = bench(wishes=RowWishes(left_out=(4,)))
    gone = b.model.left_out[0]
    b.double_click(b.at(gone.centre, 16.6))
    assert b.wishes.left_out == ()


def test_double_click_in_the_gap_adds_one(bench):
    b = bench()
    b.double_click(b.at((b.tooth(3).centre + b.tooth(4).centre) / 2, 16.6))
    assert len(b.model.teeth) == 16
    assert b.heard.edits[-1][0] == "One tooth more"


@pytest.mark.parametrize(
    ("key", "text", "check"),
    [
        ("foot", "2.4", lambda b: b.plan.foot == pytest.approx(2.4)),
        ("pitch", "4,5 mm", lambda b: b.plan.pitch == pytest.approx(4.5)),
        ("length", "2 in", lambda b: b.model.stops[1] - b.model.stops[0] == pytest.approx(50.8)),
        ("end_left", "60 thou", lambda b: b.model.row_ends[0] == pytest.approx(1.524, abs=1e-4)),
        ("clear", "3.9", lambda b: b.model.bridges[2].clear == pytest.approx(3.9)),
    ],
)
def test_a_double_click_on_a_dimension_types_it(bench, key, text, check):
    """Inches by the exact inch of 25.4 mm."""
    b = bench()
    b.double_click(b.on_figure(key))
    b.type(text)
    assert check(b)
    assert len(b.heard.edits) == len(b.steps) == 1
    assert b.canvas.editor is None


def test_a_figure_that_is_none_stays_in_the_box_and_says_why(bench):
    b = bench()
    b.double_click(b.on_figure("foot"))
    b.type("wide")
    assert b.canvas.editor is not None
    assert "is not a length" in b.canvas.editor.accessibleDescription()
    QTest.keyClick(b.canvas.editor, K.Key_Escape)
    assert b.canvas.editor is None
    assert b.heard.edits == []


def test_measured_figures_cannot_be_typed(bench):
    b = bench()
    b.double_click(b.on_figure("gap"))
    assert b.canvas.editor is None


def test_all_dimensions_can_be_reached_by_keys(bench):
    b = bench()
    b.canvas.setFocus()
    b.key(K.Key_F2)
    seen = []
    while b.canvas.editor is not None and b.canvas.editor.dimension.key not in seen:
        seen.append(b.canvas.editor.dimension.key)
        QTest.keyClick(b.canvas.editor, K.Key_Tab)
        b.settle()
    assert set(seen) == {"length", "end_left", "end_right", "pitch", "foot", "clear"}
    QTest.keyClick(b.canvas.editor, K.Key_Escape)
    assert b.heard.edits == []


def test_arrows_select_and_ctrl_arrows_nudge(bench):
    b = bench()
    b.canvas.setFocus()
    b.key(K.Key_Right)
    b.key(K.Key_Right)
    assert b.canvas.selected_tooth == 1
    before = b.tooth(1).centre
    b.key(K.Key_Right, CTRL)
    assert b.tooth(1).centre - before == pytest.approx(0.1)
    b.key(K.Key_Left, CTRL)
    assert b.wishes.moved == ()
    b.key(K.Key_Right, CTRL | SHIFT)
    assert b.tooth(1).centre - before == pytest.approx(0.01)
    assert len(b.steps) == 3


def test_a_key_held_down_is_one_step(bench):
    b = bench()
    b.click(b.on_tooth(4))

    def send(kind: QEvent.Type, repeat: bool) -> None:
        QApplication.sendEvent(b.canvas, QKeyEvent(kind, K.Key_Right, CTRL, "", repeat))

    send(QEvent.Type.KeyPress, False)
    for _ in range(4):
        send(QEvent.Type.KeyRelease, True)
        send(QEvent.Type.KeyPress, True)
    send(QEvent.Type.KeyRelease, False)
    assert b.tooth(4).moved == pytest.approx(0.5)
    assert len(b.steps) == 1


def test_end_stops_by_keys(bench):
    b = bench()
    b.canvas.setFocus()
    b.key(K.Key_Right)
    b.key(K.Key_Left)
    assert b.canvas.selected.kind == "start"
    b.key(K.Key_Right, CTRL)
    assert b.wishes.start == pytest.approx(0.1)


def test_plus_and_minus_change_the_count(bench):
    b = bench()
    b.canvas.setFocus()
    b.key(K.Key_Plus)
    assert len(b.model.teeth) == 16
    b.key(K.Key_Minus)
    b.key(K.Key_Minus)
    assert len(b.model.teeth) == 14


def test_the_last_tooth_cannot_be_left_out(bench):
    b = bench(parts.straight(3.0), wishes=RowWishes(teeth=1))
    b.click(b.on_tooth(0))
    b.key(K.Key_Delete)
    assert b.heard.edits == []
    assert "last tooth" in b.heard.refused[0]
    assert "last tooth" in b.canvas.message


def test_wheel_zooms_where_the_pointer_is(bench):
    b = bench()
    at = b.on_tooth(3)
    u, z, scale = b.view.sheet.u(at.x()), b.view.sheet.z(at.y()), b.view.sheet.scale
    b.wheel(at, 2)
    assert b.view.sheet.scale == pytest.approx(scale * 1.44)
    assert b.view.sheet.u(at.x()) == pytest.approx(u)
    assert b.view.sheet.z(at.y()) == pytest.approx(z)
    b.panel.header.whole.click()
    assert b.view.sheet.scale == pytest.approx(scale)


@pytest.mark.parametrize("how", ["middle", "space"])
def test_panning(bench, how):
    b = bench()
    b.wheel(b.on_tooth(7), 3)
    u = b.view.sheet.u(500)
    if how == "space":
        QTest.keyPress(b.canvas, K.Key_Space)
    button = MIDDLE if how == "middle" else Qt.MouseButton.LeftButton
    b.press(QPoint(500, 80), button=button)
    b.move(QPoint(460, 80), button=button)
    b.release(QPoint(460, 80), button=button)
    QTest.keyRelease(b.canvas, K.Key_Space)
    assert b.view.sheet.u(460) == pytest.approx(u)
    assert b.heard.started == []


def test_zoom_stays_through_a_drag_and_ends_with_another_span(bench):
    b = bench()
    b.wheel(b.on_tooth(4), 3)
    scale = b.view.sheet.scale
    b.drag(b.on_tooth(4, 0.4), (30, 0))
    assert b.view.sheet.scale == pytest.approx(scale)
    b.case, b.section = parts.ridge(), None
    b.show(RowWishes())
    assert b.view.sheet.scale != pytest.approx(scale)


def test_the_rule_steps_through_the_layers(bench):
    b = bench()
    x = round(b.view.window.right + 11)
    b.click(QPoint(x, round(b.view.sheet.y(16.3))))
    assert b.model.layers.top_of(b.heard.layers[-1]) == pytest.approx(16.4)
    b.key(K.Key_Up)
    assert b.model.layers.top_of(b.heard.layers[-1]) == pytest.approx(16.6)
    b.drag(QPoint(x, round(b.view.sheet.y(16.3))), (0, -b.px(1.0)))
    assert b.model.layers.top_of(b.heard.layers[-1]) == pytest.approx(17.4)
    assert b.heard.started == []


def test_what_is_set_from_outside_is_not_told_back(bench):
    b = bench()
    b.panel.set_selected_tooth(3)
    b.panel.set_hovered_tooth(4)
    b.panel.set_layer(80)
    assert (b.heard.selected, b.heard.hovered, b.heard.layers) == ([], [], [])
    assert b.canvas.selected_tooth == 3
    b.panel.set_drawing(None)
    assert b.canvas.selected_tooth is None
    b.settle()


def test_a_refused_wish_leaves_the_drawing(bench):
    b = bench()
    b.double_click(b.on_figure("foot"))
    b.type("9")
    assert len(b.model.teeth) == 15
    assert "overlap" in b.canvas.message
    assert b.steps == []


def test_a_closed_span_pulled_over_its_cut(bench):
    b = bench(parts.ring(), cut=20.0)
    assert b.canvas.handle_under(QPointF(b.on_stop(0))) is None
    before = b.model.to_s(b.tooth(3).centre)
    b.drag(b.on_tooth(3), (15, 0), CTRL)
    assert b.model.to_s(b.tooth(3).centre) - before == pytest.approx(15 / b.view.sheet.scale, abs=0.011)


def test_detail_appears_in_a_drag_when_there_is_room(bench):
    b = bench(size=(1400, 420))
    assert b.canvas.detail_view is None
    start = b.on_tooth(5)
    b.press(start)
    b.move(start + QPoint(8, 0), CTRL)
    b.settle()
    detail = b.canvas.detail_view
    assert detail is not None
    assert detail.sheet.scale > b.view.sheet.scale
    b.release(start + QPoint(8, 0), CTRL)
    b.settle()
    assert b.canvas.detail_view is None


def test_detail_asks_for_its_height_and_its_teeth_can_be_pulled(bench):
    b = bench()
    b.panel.header.detail.click()
    b.settle()
    assert b.panel.minimumSizeHint().height() >= 360
    b.panel.resize(1400, 420)
    b.panel.set_selected_tooth(6)
    b.image()
    detail = b.canvas.detail_view
    tooth = b.tooth(6)
    start = QPoint(round(detail.sheet.x(tooth.centre)), round(detail.sheet.y(16.2)))
    b.drag(start, (20, 0), CTRL)
    assert b.tooth(6).centre - tooth.centre == pytest.approx(20 / detail.sheet.scale, abs=0.02)


def test_small_panels_have_no_detail(bench):
    b = bench()
    b.drag(b.on_tooth(5), (10, 0), release=False)
    b.image()
    assert b.canvas.detail_view is None
    b.key(K.Key_Escape)


def test_a_screen_reader_is_told(bench):
    b = bench(survival={3: Survival("will not print")})
    text = b.canvas.accessibleDescription()
    assert "Span 72.00 mm long" in text
    assert "15 teeth, pitch 4.97 mm" in text
    b.canvas.setFocus()
    for _ in range(4):
        b.key(K.Key_Right)
    assert "Tooth 4 selected" in b.canvas.accessibleDescription()
    assert "will not print" in b.canvas.accessibleDescription()
    for widget in (b.panel, b.canvas, b.panel.header.layer_lines, b.panel.header.detail, b.panel.header.whole):
        assert widget.accessibleName()


def test_units_on_the_drawing(bench):
    b = bench()
    b.panel.set_unit("inch")
    assert b.canvas.figures.dimension("length").text == "2.8346"
    b.double_click(b.on_figure("foot"))
    b.type("0.1")
    assert b.plan.foot == pytest.approx(2.54)


def test_the_scale_is_that_of_the_screen(bench):
    b = bench()
    ratio = b.view.sheet.scale / (b.canvas.screen().physicalDotsPerInchX() / 25.4)
    assert f"{ratio:.1f} : 1" in b.panel.header.scale.text()


@pytest.mark.parametrize("width", [420, 560, 700, 1096, 2000])
def test_nothing_in_the_header_is_cut(bench, width):
    b = bench(size=(width, 208))
    b.settle()
    header = b.panel.header
    shown = [w for w in (header.title, header.scale, header.layer_lines, header.detail, header.whole) if w.isVisible()]
    assert header.title in shown
    for widget in shown:
        assert widget.width() >= widget.sizeHint().width() - 1, widget
        assert header.rect().contains(widget.geometry()), widget


def test_no_drawing_is_a_hint(bench):
    b = bench()
    b.panel.set_drawing(None)
    b.image()
    b.key(K.Key_Right)
    b.click(QPoint(300, 100))
    b.wheel(QPoint(300, 100), 1)
    assert b.panel.svg() == b.panel.png() == b""
    assert not b.panel.copy()
    assert b.panel.header.scale.text() == ""
