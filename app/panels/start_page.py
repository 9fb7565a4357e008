"""The page that the window opens on: a place to drop a mesh, what was open before, and the samples."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QRectF, Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDropEvent, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.look import drawing
from app.look.current import colour
from app.look.tokens import Space, Type
from app.panels.kept_jobs import KeptJob, KeptJobs
from app.panels.start_parts import DropArea, FourActions, Heading, Mark
from app.panels.widgets.buttons import LinkButton
from app.panels.widgets.card import Card
from app.panels.widgets.painted import ThemedLabel
from app.panels.widgets.state_mark import State, StateMark

COLUMNS, RECENT_SHOWN = 3, 6
MARGIN = 16  # px from the page's edge to the frame
INSET = 48  # px from the frame to the words
SUFFIXES = (".stl", ".3mf", ".obj", ".ply", ".json", ".snapcomb")


@dataclass(frozen=True)
class RecentEntry:
    """A file that was open before; ``about`` is a line such as “2 rows, handed over”."""

    path: Path
    about: str = ""
    state: State = State.NONE
    picture: QPixmap | None = None


@dataclass(frozen=True)
class SampleEntry:
    """A sample by its stable name."""

    name: str
    title: str
    about: str = ""
    picture: QPixmap | None = None


class _Sheet(QWidget):
    """The framed ground of the page."""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("paper"))
        drawing.frame(painter, QRectF(self.rect()).adjusted(MARGIN, MARGIN, -MARGIN, -MARGIN))


class StartPage(QScrollArea):
    """Emits what the person wishes; what it shows is set from outside."""

    open_requested = Signal()
    file_dropped = Signal(Path)
    sample_chosen = Signal(str)
    recent_chosen = Signal(Path)
    recovery_accepted = Signal(str)
    recovery_declined = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setAccessibleName(self.tr("Start page"))
        self.setAcceptDrops(True)
        self._recent: list[RecentEntry] = []
        self._all_shown = False
        self._recent_cards: dict[Path, Card] = {}
        self._sample_cards: dict[str, Card] = {}
        self._build()
        self.set_recent([])
        self.set_kept_jobs([])

    def _build(self) -> None:
        page = _Sheet()
        columns = QHBoxLayout(page)
        inset = MARGIN + INSET
        columns.setContentsMargins(inset, inset - 16, inset - 16, inset - 16)
        columns.setSpacing(64)
        columns.addLayout(self._left(), 41)
        columns.addLayout(self._right(), 59)
        self.setWidget(page)

    def _left(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(0)
        column.addWidget(Mark(self))
        column.addSpacing(Space.XL)
        column.addWidget(
            ThemedLabel(self.tr("Breakaway teeth under edges that would sag."), "ink2", Type.HEAD, parent=self)
        )
        column.addSpacing(Space.XXL)
        self.drop = DropArea(self)
        self.drop.button.clicked.connect(self.open_requested)
        column.addWidget(self.drop, 6)
        column.addSpacing(36)
        column.addWidget(Heading(self.tr("FOUR ACTIONS"), self, ruled=False))
        column.addSpacing(Space.XL)
        column.addWidget(FourActions(self))
        column.addSpacing(Space.XXL)
        column.addStretch(1)
        column.addLayout(self._caution())
        column.addStretch(1)
        return column

    def _caution(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(Space.M)
        sign = StateMark(State.LOOK, self)
        sign.setFixedWidth(16)  # the triangle without its word
        sign.setAccessibleName(self.tr("Caution"))
        row.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(2)
        for text, role in (
            (self.tr("Snapping teeth off makes small pieces fly: wear eye protection."), "ink"),
            (self.tr("Let the part cool, brace it, work away from hands and people."), "ink2"),
        ):
            label = ThemedLabel(text, role, Type.TEXT, parent=self)
            label.setWordWrap(True)
            words.addWidget(label)
        row.addLayout(words, 1)
        return row

    def _right(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(0)
        self.kept = KeptJobs(self)
        self.kept.taken.connect(self.recovery_accepted)
        self.kept.left.connect(self.recovery_declined)
        column.addWidget(self.kept)
        column.addSpacing(Space.XXL)
        self.recent_heading = Heading(self.tr("RECENT"), self)
        self.show_all = LinkButton(self.tr("Show all"), self)
        self.show_all.clicked.connect(self._toggle_all)
        self.recent_heading.add(self.show_all)
        self.recent_grid, self.sample_grid = _grid(), _grid()
        self.nothing = ThemedLabel(self.tr("Files that you open are kept here, with a picture."), "ink2", parent=self)
        column.addWidget(self.recent_heading)
        column.addSpacing(Space.M)
        column.addWidget(self.nothing)
        column.addLayout(self.recent_grid)
        column.addSpacing(Space.XXL)
        column.addWidget(Heading(self.tr("SAMPLES"), self))
        column.addSpacing(Space.M)
        column.addLayout(self.sample_grid)
        column.addStretch(1)
        return column

    # what is shown

    def set_recent(self, entries: Sequence[RecentEntry]) -> None:
        """Show the files that were open before, newest first; emits nothing."""
        self._recent = list(entries)
        shown = self._recent if self._all_shown else self._recent[:RECENT_SHOWN]
        self._recent_cards = {entry.path: self._recent_card(entry) for entry in shown}
        _fill(self.recent_grid, self._recent_cards.values())
        self.nothing.setVisible(not self._recent)
        self.show_all.setVisible(len(self._recent) > RECENT_SHOWN)
        self.show_all.setText(self.tr("Show fewer") if self._all_shown else self.tr("Show all"))
        self._put_in_order()

    def set_samples(self, entries: Iterable[SampleEntry]) -> None:
        """Show the samples; emits nothing."""
        self._sample_cards = {}
        for entry in entries:
            title = QCoreApplication.translate("Samples", entry.title)
            about = QCoreApplication.translate("Samples", entry.about)
            card = Card(title, about, entry.picture, parent=self)
            card.clicked.connect(_sends(self.sample_chosen.emit, entry.name))
            self._sample_cards[entry.name] = card
        _fill(self.sample_grid, self._sample_cards.values())
        self._put_in_order()

    def set_recent_picture(self, path: Path, picture: QPixmap) -> None:
        """Put a picture that has just been drawn on a recent file, and keep it when the list is shown anew."""
        self._recent = [replace(e, picture=picture) if e.path == path else e for e in self._recent]
        if path in self._recent_cards:
            self._recent_cards[path].set_picture(picture)

    def set_sample_picture(self, name: str, picture: QPixmap) -> None:
        """Put a picture that has just been drawn on a sample."""
        if name in self._sample_cards:
            self._sample_cards[name].set_picture(picture)

    def set_kept_jobs(self, jobs: Sequence[KeptJob]) -> None:
        """Offer work that earlier runs left behind, newest first; none takes the offers away."""
        self.kept.show_jobs(jobs)
        self._put_in_order()

    def _recent_card(self, entry: RecentEntry) -> Card:
        card = Card(entry.path.name, entry.about, entry.picture, entry.state, self)
        card.setToolTip(str(entry.path))
        card.clicked.connect(_sends(self.recent_chosen.emit, entry.path))
        return card

    def _toggle_all(self) -> None:
        self._all_shown = not self._all_shown
        self.set_recent(self._recent)

    def _put_in_order(self) -> None:
        """Tab goes as one reads: the file dialog, what was kept, recent files, samples."""
        kept = [b for banner in self.kept.banners.values() for b in banner.buttons.values()]
        order = [self.drop.button, *kept, self.show_all, *self._recent_cards.values(), *self._sample_cards.values()]
        for one, following in pairwise(order):
            QWidget.setTabOrder(one, following)

    # dropping

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        if dropped_file(event) is not None:
            self.drop.set_hovered(True)
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802
        event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:  # noqa: N802
        self.drop.set_hovered(False)

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802
        self.drop.set_hovered(False)
        path = dropped_file(event)
        if path is not None:
            event.acceptProposedAction()
            self.file_dropped.emit(path)


def dropped_file(event: QDropEvent) -> Path | None:
    """The first file of a drag, whatever it is called: the reader says what is wrong with it, in words."""
    urls = event.mimeData().urls() if event.mimeData().hasUrls() else []
    return next((Path(url.toLocalFile()) for url in urls if url.isLocalFile()), None)


def _sends(emit: Callable[[object], None], what: object) -> Callable[..., None]:
    return lambda *_: emit(what)


def _grid() -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(Space.XL)
    grid.setVerticalSpacing(Space.L)
    for column in range(COLUMNS):
        grid.setColumnStretch(column, 1)
    return grid


def _fill(grid: QGridLayout, cards: Iterable[QWidget]) -> None:
    while grid.count():
        item = grid.takeAt(0)
        if item.widget() is not None:
            item.widget().hide()
            item.widget().deleteLater()
    for k, card in enumerate(cards):
        grid.addWidget(card, k // COLUMNS, k % COLUMNS)
