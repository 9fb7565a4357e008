"""Our own controls under real keys and clicks: they emit wishes, change nothing by themselves, and name themselves."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QAction, QDragEnterEvent, QDropEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel, QMainWindow, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from app.look import fonts, theme
from app.panels.kept_jobs import KeptJob
from app.panels.start_page import RecentEntry, SampleEntry, StartPage
from app.panels.widgets import (
    Banner,
    Choice,
    CountBox,
    Finder,
    InfoBubble,
    LengthBox,
    NumberBox,
    Segmented,
    SheetLine,
    State,
    StateMark,
)
from app.panels.widgets.finder import actions_of, ranked

INCH = 25.4  # mm exactly (international yard and pound agreement, 1959; NIST)


class Heard(list[object]):
    """What a signal said."""

    def __call__(self, *words: object) -> None:
        self.append(words[0] if words else None)


@pytest.fixture
def length(qtbot: QtBot, dressed: str) -> LengthBox:
    box = LengthBox("Foot")
    qtbot.addWidget(box)
    box.resize(146, 60)
    box.set_value(2.0, automatic=True)
    box.show()
    qtbot.waitExposed(box)
    return box


def type_in(qtbot: QtBot, box: QWidget, text: str, *, end: Qt.Key = Qt.Key.Key_Return) -> None:
    box.edit.setFocus()
    box.edit.selectAll()
    qtbot.keyClicks(box.edit, text)
    qtbot.keyClick(box.edit, end)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [("1.5", 1.5), ("1,5", 1.5), ("1.5 mm", 1.5), ("0.06 in", 0.06 * INCH), ("60 thou", 0.060 * INCH), ("1/", None)],
)
def test_length_box_takes_the_usual_spellings(qtbot: QtBot, length: LengthBox, typed: str, mm: float | None) -> None:
    heard = Heard()
    length.edited.connect(heard)
    type_in(qtbot, length, typed)
    assert heard == ([] if mm is None else [pytest.approx(mm, abs=1e-9)])
    assert length.error.isHidden() == (mm is not None)


def test_bare_figure_is_read_in_the_unit_shown(qtbot: QtBot, length: LengthBox) -> None:
    heard = Heard()
    length.edited.connect(heard)
    length.set_unit("inch")
    assert length.edit.text() == f"{2.0 / INCH:.4f}"
    type_in(qtbot, length, "0.082")
    assert heard == [pytest.approx(0.082 * INCH, abs=1e-9)]
    assert length.edit.text() == "0.0820"


def test_setting_emits_nothing_and_keeps_letters_that_are_being_typed(qtbot: QtBot, length: LengthBox) -> None:
    edited, live = Heard(), Heard()
    length.edited.connect(edited)
    length.live.connect(live)
    length.set_value(3.0)
    assert (edited, live) == ([], [])
    length.activateWindow()
    length.edit.setFocus()
    qtbot.waitUntil(length.edit.hasFocus)
    length.edit.selectAll()
    qtbot.keyClicks(length.edit, "1.")
    length.set_value(1.0)  # the document answers the live figure
    assert length.edit.text() == "1."
    assert live == [1.0, 1.0]
    assert edited == []


def test_typing_sets_and_the_mark_hands_back(qtbot: QtBot, length: LengthBox) -> None:
    back = Heard()
    length.returned_to_auto.connect(back)
    assert length.mark.text() == "auto"
    type_in(qtbot, length, "2.5")
    assert (length.automatic(), length.mark.text()) == (False, "set")
    qtbot.mouseClick(length.mark, Qt.MouseButton.LeftButton)
    assert len(back) == 1
    length.set_value(2.0, automatic=True)
    assert length.mark.text() == "auto"


def test_unchanged_figure_stays_automatic_when_the_box_is_left(qtbot: QtBot, length: LengthBox) -> None:
    heard = Heard()
    length.edited.connect(heard)
    length.edit.setFocus()
    qtbot.keyClick(length.edit, Qt.Key.Key_Tab)
    qtbot.keyClick(length.edit, Qt.Key.Key_Return)
    assert heard == []
    assert length.automatic()


def test_nonsense_gets_a_sentence_and_escape_takes_it_back(qtbot: QtBot, length: LengthBox) -> None:
    heard, given_up = Heard(), Heard()
    length.edited.connect(heard)
    length.given_up.connect(given_up)
    type_in(qtbot, length, "wide")
    assert heard == []
    assert "wide" in length.error.text()
    assert length.edit.accessibleDescription() == length.error.text()
    qtbot.keyClick(length.edit, Qt.Key.Key_Escape)
    assert length.error.isHidden()
    assert length.edit.text() == "2.00"
    assert len(given_up) == 1


def test_arrows_step_and_never_below_nothing(qtbot: QtBot, length: LengthBox) -> None:
    heard = Heard()
    length.edited.connect(heard)
    qtbot.keyClick(length.edit, Qt.Key.Key_Up)
    qtbot.keyClick(length.edit, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(length.edit, Qt.Key.Key_PageDown)
    qtbot.keyClick(length.edit, Qt.Key.Key_PageDown)
    assert heard == [pytest.approx(v) for v in (2.1, 1.1, 0.1, 0.0)]


def wheel(box: QWidget) -> None:
    where = QPointF(5, 5)
    event = QWheelEvent(
        where, box.mapToGlobal(where), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(box, event)


def test_wheel_turns_a_figure_only_where_the_person_is(qtbot: QtBot, length: LengthBox) -> None:
    heard = Heard()
    length.edited.connect(heard)
    length.edit.clearFocus()
    wheel(length.edit)
    assert heard == []
    length.activateWindow()
    length.edit.setFocus()
    qtbot.waitUntil(length.edit.hasFocus)
    wheel(length.edit)
    assert heard == [pytest.approx(2.1)]


def test_error_sentence_is_shown_whole(qtbot: QtBot, length: LengthBox) -> None:
    length.set_error("A foot of 0.30 mm is narrower than one line. Take 0.44 mm or more.")
    length.adjustSize()
    qtbot.waitUntil(lambda: length.error.height() >= length.error.heightForWidth(length.error.width()) - 1)
    assert length.frame.wrong


def test_count_box_steps_within_its_range(qtbot: QtBot, dressed: str) -> None:
    box = CountBox("Teeth", least=1, most=3)
    qtbot.addWidget(box)
    box.set_value(2)
    heard = Heard()
    box.edited.connect(heard)
    qtbot.mouseClick(box.stepper.more, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(box.stepper.more, Qt.MouseButton.LeftButton)  # off at the end of the range
    qtbot.mouseClick(box.stepper.less, Qt.MouseButton.LeftButton)
    assert heard == [3.0, 2.0]
    type_in(qtbot, box, "9")
    assert "1 to 3" in box.error.text()
    type_in(qtbot, box, "two")
    assert "two" in box.error.text()
    assert heard == [3.0, 2.0]


def test_number_box_reads_its_own_unit(qtbot: QtBot, dressed: str) -> None:
    box = NumberBox("Limit", "°")
    qtbot.addWidget(box)
    box.set_value(45)
    heard = Heard()
    box.edited.connect(heard)
    type_in(qtbot, box, "50,5°")
    assert heard == [50.5]
    assert box.edit.text() == "50.5"


def test_segmented_by_mouse_and_by_arrow_keys(qtbot: QtBot, dressed: str) -> None:
    strip = Segmented(
        [Choice("straight", "Straight", "tooth_straight"), Choice("post", "Post", "tooth_post")], "Tooth shape"
    )
    qtbot.addWidget(strip)
    heard = Heard()
    strip.chosen.connect(heard)
    strip.set_current("straight")
    assert heard == []
    strip.show()
    qtbot.mouseClick(strip.segment("post"), Qt.MouseButton.LeftButton)
    assert heard == ["post"]
    strip.activateWindow()
    strip.segment("post").setFocus()
    qtbot.keyClick(strip.segment("post"), Qt.Key.Key_Left)
    assert strip.current() == "straight"
    assert heard == ["post", "straight"]


def test_sheet_line_asks_and_is_unfolded_from_outside(qtbot: QtBot, dressed: str) -> None:
    line = SheetLine(5, "Teeth")
    qtbot.addWidget(line)
    body = QLabel("controls")
    line.set_body(body)
    line.set_figure("15, pitch 4.97")
    line.set_state(State.LOOK)
    heard = Heard()
    line.asked.connect(heard)
    line.show()
    qtbot.mouseClick(line.header, Qt.MouseButton.LeftButton)
    qtbot.keyClick(line.header, Qt.Key.Key_Space)
    assert heard == [5, 5]
    assert not line.expanded()
    line.set_expanded(True)
    assert body.isVisible()
    assert line.header.accessibleName() == "5 Teeth, 15, pitch 4.97, Look"
    assert line.header.height() == theme.line_height()


def test_state_is_a_word_too(qtbot: QtBot, dressed: str) -> None:
    mark = StateMark(State.TODO)
    qtbot.addWidget(mark)
    assert mark.accessibleName() == "To do"


def test_banner_emits_the_word_of_its_step(qtbot: QtBot, dressed: str) -> None:
    banner = Banner(
        "Teeth 12 and 13 will not print.", [("widen", "Widen to 0.45"), ("leave", "Leave them out")], dismissable=True
    )
    qtbot.addWidget(banner)
    heard, away = Heard(), Heard()
    banner.chosen.connect(heard)
    banner.dismissed.connect(away)
    banner.show()
    qtbot.mouseClick(banner.buttons["widen"], Qt.MouseButton.LeftButton)
    assert heard == ["widen"]
    banner.show_message("Other words.", [("again", "Read it again")], kind="note")
    assert list(banner.buttons) == ["again"]
    assert banner.accessibleName() == "Other words."


@pytest.fixture
def window(qtbot: QtBot, dressed: str) -> QMainWindow:
    made = QMainWindow()
    qtbot.addWidget(made)
    menu = made.menuBar().addMenu("&File")
    for text, keys, on in (("&Open…", "Ctrl+O", True), ("Hand &over…", "Ctrl+E", True), ("Save", "Ctrl+S", False)):
        action = menu.addAction(text)
        action.setShortcut(keys)
        action.setEnabled(on)
    menu.addMenu("More").addAction("Turn over")
    made.addAction(QAction("Hidden from menus", made))
    made.show()
    return made


def test_finder_knows_every_action_by_its_path(window: QMainWindow) -> None:
    found = {f.name: f.path for f in actions_of(window)}
    assert found == {
        "Open": "File",
        "Hand over": "File",
        "Save": "File",
        "Turn over": "File › More",
        "Hidden from menus": "",
    }


@pytest.mark.parametrize(
    ("query", "first"), [("op", "Open"), ("over hand", "Hand over"), ("turn", "Turn over"), ("more", "Turn over")]
)
def test_finder_ranks_by_words(window: QMainWindow, query: str, first: str) -> None:
    assert ranked(query, actions_of(window))[0].name == first


def test_finder_by_keys_alone(qtbot: QtBot, window: QMainWindow) -> None:
    heard: list[str] = []
    for found in actions_of(window):
        found.action.triggered.connect(lambda _=False, name=found.name: heard.append(name))
    finder = Finder(window)
    finder.open()
    qtbot.keyClicks(finder.edit, "over")
    qtbot.keyClick(finder.edit, Qt.Key.Key_Down)
    qtbot.keyClick(finder.edit, Qt.Key.Key_Return)
    assert heard == ["Turn over"]
    assert not finder.isVisible()
    finder.open()
    qtbot.keyClicks(finder.edit, "save")
    qtbot.keyClick(finder.edit, Qt.Key.Key_Return)  # off at the moment: shown, never done
    assert heard == ["Turn over"]
    qtbot.keyClick(finder, Qt.Key.Key_Escape)
    assert not finder.isVisible()


def test_bubble_stays_on_the_screen(qtbot: QtBot, dressed: str) -> None:
    bubble = InfoBubble()
    qtbot.addWidget(bubble)
    screen = QApplication.primaryScreen().availableGeometry()
    for corner in (screen.topLeft(), screen.topRight(), screen.bottomLeft(), screen.bottomRight()):
        bubble.show_at(corner, [("Length", "68.00 mm"), ("Gap", "5.88 mm")])
        assert screen.contains(bubble.geometry())
    assert bubble.accessibleName() == "Length 68.00 mm, Gap 5.88 mm"


@pytest.fixture
def page(qtbot: QtBot, dressed: str) -> StartPage:
    made = StartPage()
    qtbot.addWidget(made)
    made.resize(1440, 870)
    made.set_recent([RecentEntry(Path(f"/parts/part_{k}.stl"), "1 weak spot", State.TODO) for k in range(8)])
    made.set_samples([SampleEntry("rain_hood", "Lip over a fin", "the everyday case")])
    made.show()
    qtbot.waitExposed(made)
    return made


def card(page: StartPage, title: str) -> QWidget:
    return next(c for c in page.findChildren(QWidget) if getattr(c, "title", None) == title and c.isVisible())


def test_start_page_emits_what_was_clicked(qtbot: QtBot, page: StartPage) -> None:
    opened, recent, sample = Heard(), Heard(), Heard()
    page.open_requested.connect(opened)
    page.recent_chosen.connect(recent)
    page.sample_chosen.connect(sample)
    qtbot.mouseClick(page.drop.button, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(card(page, "part_1.stl"), Qt.MouseButton.LeftButton)
    qtbot.keyClick(card(page, "Lip over a fin"), Qt.Key.Key_Return)
    assert (len(opened), recent, sample) == (1, [Path("/parts/part_1.stl")], ["rain_hood"])


def test_start_page_shows_the_rest_on_demand(qtbot: QtBot, page: StartPage) -> None:
    assert page.recent_grid.count() == 6
    qtbot.mouseClick(page.show_all, Qt.MouseButton.LeftButton)
    assert page.recent_grid.count() == 8


def test_start_page_offers_kept_work(qtbot: QtBot, page: StartPage) -> None:
    taken, left = Heard(), Heard()
    page.recovery_accepted.connect(taken)
    page.recovery_declined.connect(left)
    assert not page.kept.isVisible()
    page.set_kept_jobs([KeptJob("a", "rain_hood.stl", "It had a row of 15 teeth.")])
    buttons = page.kept.banners["a"].buttons
    qtbot.mouseClick(buttons["take"], Qt.MouseButton.LeftButton)
    qtbot.mouseClick(buttons["leave"], Qt.MouseButton.LeftButton)
    assert (len(taken), len(left)) == (1, 1)


def test_start_page_takes_a_dropped_file(page: StartPage, tmp_path: Path) -> None:
    dropped = Heard()
    page.file_dropped.connect(dropped)
    data = QMimeData()
    data.setUrls([QUrl("https://example.org/no.stl"), QUrl.fromLocalFile(str(tmp_path / "gauge.stl"))])
    actions, button, keys = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(50, 50), actions, data, button, keys)
    page.dragEnterEvent(enter)
    assert enter.isAccepted()
    page.dropEvent(QDropEvent(QPointF(50, 50), actions, data, button, keys))
    assert dropped == [tmp_path / "gauge.stl"]


def test_every_control_has_a_name(page: StartPage) -> None:
    for control in page.findChildren(QWidget):
        if control.focusPolicy() & Qt.FocusPolicy.TabFocus and control.isVisible():
            assert control.accessibleName() or getattr(control, "text", str)(), type(control)


@pytest.mark.parametrize("size", [1.0, 1.25, 1.5])
def test_no_verb_is_cut_at_any_type_size(
    qtbot: QtBot, page: StartPage, qapp: QApplication, dressed: str, size: float
) -> None:
    fonts.set_scale(size)
    theme.apply(qapp, dressed)
    qapp.processEvents()
    for button in page.findChildren(QPushButton):
        if button.isVisible() and button.text():
            assert button.width() >= button.fontMetrics().horizontalAdvance(button.text())
            assert button.height() >= button.fontMetrics().height()
