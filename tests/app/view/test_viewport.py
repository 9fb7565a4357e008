"""The view with real pixels, a real depth buffer and real mouse events."""

from __future__ import annotations

import logging

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QFocusEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from app.look import theme as look
from app.look.tokens import DARK, LIGHT
from app.view.viewport import Viewport
from core.geometry.mesh import Mesh, joined
from tests.app.view.shapes import features, near, pixels, place, purple, show
from tests.meshes import box

LOW = box((-30, 0, 0), (30, 20, 12))
HIGH = box((-30, 0, 15), (30, 20, 40))
PART = joined([LOW, HIGH])  # a block that hangs 3 mm above another
TEETH = joined([box((x - 1, 0.0, 11.8), (x + 1, 1.0, 15.2)) for x in (-20.0, 0.0, 20.0)])
LIP = np.array([[-30.0, 0.0, 15.0], [30.0, 0.0, 15.0]])
LEDGE = np.array([[-30.0, 0.0, 12.0], [30.0, 0.0, 12.0]])
LEFT = Qt.MouseButton.LeftButton
Keys = Qt.KeyboardModifier
NO_KEYS = Keys.NoModifier


@pytest.fixture
def part(viewport: Viewport) -> Viewport:
    show(viewport, PART)
    viewport.view_named("front")
    viewport.finish()
    return viewport


def drag(
    qtbot: QtBot, view: Viewport, start: QPoint, end: QPoint, button: Qt.MouseButton = LEFT, keys: Keys = NO_KEYS
) -> None:
    qtbot.mousePress(view, button, keys, start)
    for share in (0.25, 0.5, 0.75, 1.0):
        send_move(view, start + (end - start) * share, button, keys)
    qtbot.mouseRelease(view, button, keys, end)


def send_move(view: Viewport, to: QPoint, buttons: Qt.MouseButton, keys: Keys = NO_KEYS) -> None:
    """A move with buttons held, which the test helper's own move does not carry."""
    here = QPointF(to)
    event = QMouseEvent(QEvent.Type.MouseMove, here, view.mapToGlobal(here), Qt.MouseButton.NoButton, buttons, keys)
    QApplication.sendEvent(view, event)


def at(view: Viewport, point: tuple[float, float, float]) -> QPoint:
    x, y = place(view, point)
    return QPoint(round(x), round(y))


# Pixels


def test_an_empty_view_is_paper_with_a_frame(viewport: Viewport) -> None:
    picture = pixels(viewport)
    assert near(picture, LIGHT.paper, 3).mean() > 0.7
    assert near(picture[200:202], LIGHT.line, 12).any()


def test_the_part_is_drawn_as_plaster_with_dark_lines(part: Viewport) -> None:
    picture = pixels(part)
    x, y = place(part, (0, 0, 28))
    patch = picture[int(y) - 10 : int(y) + 10, int(x) - 10 : int(x) + 10]
    assert patch.min() > 200  # near white, never mid-grey
    x, y = place(part, (-30, 0, 28))
    assert picture[int(y), int(x) - 3 : int(x) + 4].min() < 90


def test_edges_are_smooth_after_a_rest(part: Viewport) -> None:
    """In one frame a pixel shows the part or it does not; frames added up give pixels that show some of it."""
    part.camera = part.camera.looking(0.3, 0.2)
    part.request(part=True)
    part._draw_due()
    assert set(np.unique(part._picture.part[..., 3])) == {0, 255}
    part.finish()
    assert len(np.unique(part._picture.part[..., 3])) == 9  # none to all of eight frames


def test_ghost_teeth_are_purple_and_added_ones_too(part: Viewport) -> None:
    assert not purple(pixels(part)).any()
    part.set_ghost_teeth(TEETH, [False, False, False])
    assert purple(pixels(part)).sum() > 100
    part.set_ghost_teeth(None)
    assert not purple(pixels(part)).any()
    part.set_added_teeth(TEETH)
    assert purple(pixels(part)).sum() > 100


def test_a_tooth_that_will_not_print_is_outlined_in_the_attention_colour(part: Viewport) -> None:
    part.set_ghost_teeth(TEETH, [False, True, False])
    marked = near(pixels(part), LIGHT.attention, 60)
    columns = np.flatnonzero(marked.any(axis=0))
    middle, _ = place(part, (0, 0, 13))
    left, _ = place(part, (-20, 0, 13))
    assert len(columns) > 3
    assert np.abs(columns - middle).max() < abs(middle - left) / 2


def test_teeth_behind_the_part_are_not_seen_and_cost_no_new_picture_of_it(part: Viewport) -> None:
    part.finish()
    frames = part.rendering.stage.frames
    part.set_ghost_teeth(Mesh(TEETH.vertices + np.array([0.0, 25.0, 0.0]), TEETH.triangles))
    part._draw_due()
    assert part.rendering.stage.frames == frames + 1  # teeth alone
    picture = pixels(part)
    x0, y0 = place(part, (-30, 0, 12))
    x1, _ = place(part, (30, 0, 12))
    assert not purple(picture[int(y0) + 8 :, int(x0) : int(x1)]).any()


def test_teeth_that_came_with_the_file_are_hatched(part: Viewport) -> None:
    plain = pixels(part)
    front = PART.triangles[np.abs(PART.normals[:, 1] + 1) < 1e-9]
    part.set_existing_teeth(PART.vertices[front[-2:]])  # the two facets of the upper block's front
    hatched = pixels(part)
    x, y = place(part, (0, 0, 28))
    window = slice(int(y) - 20, int(y) + 20), slice(int(x) - 20, int(x) + 20)
    share = (hatched[window].mean(axis=2) < plain[window].mean(axis=2) - 60).mean()
    assert 0.05 < share < 0.5
    lower = slice(*sorted(int(place(part, (0, 0, z))[1]) for z in (3, 9))), window[1]
    assert np.abs(hatched[lower] - plain[lower]).max() < 12


def test_the_chosen_edge_is_heavy_and_the_ledge_dashed_blue(part: Viewport) -> None:
    part.set_overhang_edge(LIP)
    part.set_ledge(LEDGE)
    picture = pixels(part)
    x, y = place(part, (7, 0, 15))
    column = picture[int(y) - 8 : int(y) + 8, int(x)].max(axis=1)
    assert 3 <= (column < 70).sum() <= 6  # 4.2 logical px of near black
    _, y = place(part, (0, 0, 12))
    x0, _ = place(part, (-28, 0, 12))
    x1, _ = place(part, (28, 0, 12))
    blue = near(picture[int(y) - 2 : int(y) + 3, int(x0) : int(x1)], LIGHT.ledge, 40).any(axis=0)
    assert 0.45 < blue.mean() < 0.85
    assert np.count_nonzero(np.diff(blue.astype(int)) == 1) > 10


def test_what_is_hovered_gets_a_halo_and_its_figures(part: Viewport) -> None:
    before = pixels(part)
    part.layers.pointer = QPointF(300, 400)
    part.set_hover(LIP, [("Length", "60.00 mm"), ("Gap", "3.00 mm")])
    after = pixels(part)
    x, y = place(part, (9, 0, 15))
    column = after[int(y) - 8 : int(y) + 9, int(x)].max(axis=1)
    assert (column > 240).sum() >= 5  # the strip of sheet colour
    assert (column < 90).sum() >= 1  # the core
    assert (np.abs(after - before).max(axis=2) > 30).sum() > 2000
    part.set_hover(None)
    assert np.abs(pixels(part) - before).max() < 12


def test_a_chosen_edge_behind_the_part_is_only_a_thin_dashed_line(part: Viewport) -> None:
    before = pixels(part)
    part.set_overhang_edge(np.array([[-25.0, 20.0, 25.0], [25.0, 20.0, 25.0]]))
    changed = np.abs(pixels(part) - before).max(axis=2)[:500] > 40  # above the scale bar, which follows the edge
    rows = np.flatnonzero(changed.any(axis=1))
    assert 1 <= len(rows) <= 3
    assert 0.3 < changed[rows].any(axis=0)[300:500].mean() < 0.9


def test_heat_is_coloured_and_has_its_scale(part: Viewport) -> None:
    values = np.full(len(PART.vertices), np.nan)
    values[8:] = np.linspace(0.0, 3.0, 8)
    part.set_heat(values, 1.5, "reach")
    picture = pixels(part)
    x, y = place(part, (0, 0, 17))
    here = picture[int(y), int(x)]
    assert here[2] - here[0] > 40  # low values are blue, where plaster is the least bit yellow
    low = picture[int(place(part, (0, 0, 6))[1]), int(x)]
    assert low.min() > 200
    bar = picture[330:490, 730:760]
    assert near(bar, "#fde737", 40).any()
    assert near(bar, "#00224d", 40).any()
    part.set_heat(None)
    assert pixels(part)[int(y), int(x)].min() > 200


def test_a_section_shows_the_inside(part: Viewport) -> None:
    before = pixels(part)
    part.set_section_plane((0.0, 0.0, 30.0), (0.0, 0.0, 1.0))
    after = pixels(part)
    x, y = place(part, (0, 0, 36))
    assert near(after[int(y) - 3 : int(y) + 3, int(x) - 3 : int(x) + 3], LIGHT.paper, 6).all()
    assert not near(before[int(y) - 3 : int(y) + 3, int(x) - 3 : int(x) + 3], LIGHT.paper, 2).all()


def test_a_cut_through_the_part_is_hatched(part: Viewport) -> None:
    part.view_named("right")
    part.set_section_plane((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    picture = pixels(part)
    x, y = place(part, (0, 10, 28))
    window = picture[int(y) - 30 : int(y) + 30, int(x) - 30 : int(x) + 30].mean(axis=2)
    assert 0.03 < (window < 150).mean() < 0.3
    assert window.max() > 200


def test_both_themes_draw_on_their_own_paper(part: Viewport, qapp: QApplication) -> None:
    look.apply(qapp, DARK)
    part.set_theme(DARK)
    try:
        picture = pixels(part)
        assert near(picture, DARK.paper, 6).mean() > 0.3
        x, y = place(part, (0, 0, 28))
        assert picture[int(y), int(x)].min() > 170
    finally:
        look.apply(qapp, LIGHT)
        part.set_theme(LIGHT)


def test_from_below_the_bed_lies_before_the_part(part: Viewport) -> None:
    part.view_named("below")
    picture = pixels(part)
    x, y = place(part, (10, 0, 0))
    on, off = picture[int(y) + 20, int(x) - 1 : int(x) + 2], picture[int(y) + 20, int(x) + 8 : int(x) + 12]
    assert off.min() - on.min() > 5  # the ruling at x = 10 crosses the part


# Hand


def test_hovering_an_edge_tells_it_and_leaving_it_tells_nothing(part: Viewport, qtbot: QtBot) -> None:
    place_ = at(part, (10, 0, 15))
    with qtbot.waitSignal(part.hovered) as told:
        send_move(part, place_, Qt.MouseButton.NoButton)
    hit = told.args[0]
    assert hit.kind == "edge"
    assert np.allclose(PART.vertices[features(PART)[hit.index]][:, 1:], (0.0, 15.0))
    with qtbot.waitSignal(part.hovered) as told:
        send_move(part, QPoint(40, 200), Qt.MouseButton.NoButton)
    assert told.args[0] is None


def test_hidden_edges_are_never_offered(part: Viewport) -> None:
    """No point of a fine grid over the view ever gives an edge of the back."""
    part.camera = part.camera.looking(0.25, 0.3)
    part.request(part=True)
    part.finish()
    pairs = features(PART)
    for x in range(100, 700, 7):
        for y in range(120, 520, 7):
            hit = part.pick(QPointF(x, y), ("edge",))
            if hit is not None:
                ends = PART.vertices[pairs[hit.index]]
                middle, _ = part.lens().project(np.array(hit.point))
                assert np.hypot(*(middle - (x, y))) <= 8.001
                assert not np.allclose(ends[:, 1], 20.0) or ends[:, 2].min() >= 40.0  # back edges: only the top one


def test_a_press_and_release_is_a_click_with_its_modifiers(part: Viewport, qtbot: QtBot) -> None:
    with qtbot.waitSignal(part.clicked) as told:
        qtbot.mouseClick(part, LEFT, Qt.KeyboardModifier.ShiftModifier, at(part, (10, 0, 15)))
    assert told.args[0].kind == "edge"
    assert told.args[1] == Qt.KeyboardModifier.ShiftModifier


def test_a_small_tremble_is_still_a_click_and_a_drag_never_is(part: Viewport, qtbot: QtBot) -> None:
    start = at(part, (10, 0, 15))
    before = part.camera
    clicks: list[object] = []
    part.clicked.connect(lambda hit, keys: clicks.append(hit))
    reach = QApplication.startDragDistance()
    drag(qtbot, part, start, start + QPoint(reach - 2, 0))
    assert len(clicks) == 1
    assert part.camera is before
    drag(qtbot, part, start, start + QPoint(reach + 40, 10))
    assert len(clicks) == 1
    assert part.camera.azimuth != before.azimuth
    part.clicked.disconnect()


def test_the_point_that_is_grabbed_stays_under_the_hand_sideways(part: Viewport, qtbot: QtBot) -> None:
    """Orbiting turns about the grabbed point, so it keeps its place on the screen."""
    grabbed = (10.0, 0.0, 30.0)
    start = at(part, grabbed)
    drag(qtbot, part, start, start + QPoint(90, 40))
    assert np.allclose(place(part, grabbed), (start.x(), start.y()), atol=2.5)


@pytest.mark.parametrize(
    ("button", "keys"),
    [(LEFT, Qt.KeyboardModifier.ShiftModifier), (Qt.MouseButton.MiddleButton, Qt.KeyboardModifier.NoModifier)],
)
def test_shift_drag_and_middle_drag_shift_the_picture(part: Viewport, qtbot: QtBot, button, keys) -> None:
    before = part.camera
    x, y = place(part, (0, 0, 20))
    drag(qtbot, part, QPoint(300, 300), QPoint(360, 280), button, keys)
    moved = np.array(place(part, (0, 0, 20))) - (x, y)
    assert (part.camera.azimuth, part.camera.elevation) == (before.azimuth, before.elevation)
    assert np.allclose(moved, (60, -20), atol=6.0)  # the grabbed depth differs a little from that of the middle


def test_the_wheel_zooms_to_the_pointer(part: Viewport) -> None:
    point = (-20.0, 0.0, 30.0)
    x, y = place(part, point)
    before = part.camera.height
    event = QWheelEvent(
        QPointF(round(x), round(y)), part.mapToGlobal(QPointF(x, y)), QPoint(), QPoint(0, 120),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(part, event)
    assert part.camera.height < before
    assert np.allclose(place(part, point), (x, y), atol=1.5)


def test_keys_frame_turn_and_step_back(part: Viewport, qtbot: QtBot) -> None:
    alt = Qt.KeyboardModifier.AltModifier
    qtbot.keyClick(part, Qt.Key.Key_Right, alt)
    assert part.camera.azimuth == pytest.approx(np.pi / 2)
    qtbot.keyClick(part, Qt.Key.Key_Up, alt)
    assert part.camera.elevation == pytest.approx(np.pi / 2)
    part.camera = part.camera.zoomed(20.0)
    qtbot.keyClick(part, Qt.Key.Key_Home)
    screen, _ = part.lens().project(PART.vertices)
    assert (screen > 0).all()
    assert (screen < (800, 600)).all()
    with qtbot.waitSignal(part.escape_pressed):
        qtbot.keyClick(part, Qt.Key.Key_Escape)


def test_the_keyboard_shows_where_it_is_and_the_mouse_does_not(part: Viewport, qapp: QApplication) -> None:
    def framed(reason: Qt.FocusReason) -> bool:
        part.clearFocus()
        qapp.sendEvent(part, QFocusEvent(QEvent.Type.FocusIn, reason))
        return bool(near(pixels(part)[:14, 100:300], LIGHT.ledge, 30).any())

    assert framed(Qt.FocusReason.TabFocusReason)
    assert not framed(Qt.FocusReason.MouseFocusReason)


def test_the_six_views_are_buttons_with_names(part: Viewport, qtbot: QtBot) -> None:
    for name, button in part.views.buttons.items():
        qtbot.mouseClick(button, LEFT)
        assert button.accessibleName()
        assert button.isChecked()
        assert [n for n, b in part.views.buttons.items() if b.isChecked()] == [name]
    assert np.allclose(part.camera.basis[2], (0, 0, -1), atol=1e-9)


def test_corners_and_faces_can_be_taken(part: Viewport, qtbot: QtBot) -> None:
    part.set_pick_kinds(("vertex",))
    hit = part.pick(QPointF(at(part, (30, 0, 40))))
    assert hit is not None
    assert PART.vertices[hit.index].tolist() == [30.0, 0.0, 40.0]
    part.set_pick_kinds(("face",))
    with qtbot.waitSignal(part.clicked) as told:
        qtbot.mouseClick(part, LEFT, pos=at(part, (5, 0, 28)))
    hit = told.args[0]
    assert np.allclose(PART.normals[hit.index], (0, -1, 0))
    assert hit.point == pytest.approx((5, 0, 28), abs=0.3)


def test_the_bed_cannot_be_taken(part: Viewport) -> None:
    part.view_named("plan")
    part.finish()
    assert part.pick(QPointF(at(part, (0, -15, 0))), ("edge", "face", "vertex")) is None


def test_a_balloon_names_its_number_instead_of_the_part(part: Viewport, qtbot: QtBot) -> None:
    part.set_balloons([(7, np.array([-30.0, 0.0, 15.0]), "Front lip, 60.0 mm", "gap 3.00")])
    before = pixels(part)
    (one,) = part.layers.placed
    left, top, right, bottom = (int(v) for v in one.box.getCoords())
    assert near(before[top:bottom, left:right], LIGHT.ink, 60).any()
    with qtbot.waitSignal(part.balloon_clicked) as told:
        qtbot.mouseClick(part, LEFT, pos=one.centre.toPoint())
    assert told.args == [7]


def test_working_axes_turn_the_eye_only(part: Viewport) -> None:
    quarter = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    part.set_view_rotation(quarter)
    part.view_named("front")
    part.finish()
    hit = part.pick(QPointF(at(part, (30, 10, 30))), ("face",))
    assert hit is not None
    assert hit.point == pytest.approx((30, 10, 30), abs=0.3)  # still bed mm


# Life


def test_nothing_is_drawn_while_hidden_and_the_newest_state_after(part: Viewport, qapp: QApplication) -> None:
    part.hide()
    frames = part.rendering.stage.frames
    part.set_mesh(LOW, features(LOW))
    part.set_ghost_teeth(TEETH)
    part.view_named("back")
    qapp.processEvents()
    assert part.rendering.stage.frames == frames
    part.show()
    qapp.processEvents()
    assert part.rendering.stage.frames > frames


def test_many_requests_make_one_picture(part: Viewport, qapp: QApplication, qtbot: QtBot) -> None:
    part.finish()
    qapp.processEvents()
    drawn: list[int] = []
    part.drawn.connect(lambda: drawn.append(1))
    for step in range(10):
        part.move_camera(part.camera.orbited(step, 0))
    qapp.processEvents()
    assert len(drawn) == 1
    part.drawn.disconnect()


def test_a_resting_view_does_no_work(part: Viewport, qapp: QApplication, qtbot: QtBot) -> None:
    part.finish()
    for _ in range(20):
        qapp.processEvents()
    frames = part.rendering.stage.frames
    qtbot.wait(300)
    assert part.rendering.stage.frames == frames


def test_a_flight_arrives_where_it_was_sent(part: Viewport, qtbot: QtBot) -> None:
    part.animated = True
    try:
        part.fly_to(np.array([[-2.0, 0.0, 14.0], [2.0, 1.0, 16.0]]), np.array([0.3, -1.0, 0.4]))
        qtbot.waitUntil(lambda: not part._moving and part._flight.state() == part._flight.State.Stopped, timeout=3000)
    finally:
        part.animated = False
    x, y = place(part, (0, 0, 15))
    assert abs(x - 400) < 30
    assert abs(y - 300) < 40
    assert np.allclose(part.camera.basis[2], np.array([0.3, -1.0, 0.4]) / np.linalg.norm([0.3, -1.0, 0.4]))


def test_another_part_is_framed_and_the_same_one_is_left_alone(part: Viewport) -> None:
    part.camera = part.camera.zoomed(3.0)
    kept = part.camera
    part.set_mesh(PART, features(PART))
    assert part.camera is kept
    part.set_mesh(Mesh(PART.vertices * 4.0, PART.triangles), features(PART))
    screen, _ = part.lens().project(PART.vertices * 4.0)
    assert (screen > 0).all()
    assert (screen < (800, 600)).all()


def test_the_camera_of_a_file_comes_back(part: Viewport) -> None:
    part.camera = part.camera.looking(0.4, 0.2)
    kept = part.camera_state()
    part.view_named("plan")
    part.restore_camera(kept)
    assert part.camera_state() == kept


def test_far_from_the_origin_the_picture_is_the_same(viewport: Viewport) -> None:
    show(viewport, PART)
    here = pixels(viewport)
    far = Mesh(PART.vertices + np.array([40_000.0, -30_000.0, 0.0]), PART.triangles)
    viewport.clear()
    show(viewport, far)
    there = pixels(viewport)
    assert (np.abs(here - there).max(axis=2) > 60).mean() < 0.01


def test_an_empty_mesh_is_an_empty_bed(viewport: Viewport, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        viewport.set_mesh(Mesh(np.zeros((0, 3)), np.zeros((0, 3), np.int32)))
        picture = pixels(viewport)
    assert near(picture, LIGHT.paper, 3).mean() > 0.7
    assert viewport.pick(QPointF(400, 300)) is None
    assert not caplog.records
