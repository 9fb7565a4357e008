"""A short guided tour on the rain hood: what to do stands on a card, and the work itself turns the pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QCoreApplication, QEvent, QObject, QRect, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QKeySequence, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.look.current import colour
from app.look.fonts import scale
from app.look.tokens import Space, Type
from app.panels.job_sheet import HAND_OVER, SPOTS, TEETH
from app.panels.widgets import IconButton, ThemedLabel, VerbButton
from app.panels.widgets.painted import framed
from core.design.plan import RowWishes
from samples import sample_path

if TYPE_CHECKING:
    from app.window import Window

SAMPLE: Final = "rain_hood"
WIDTH: Final = 328
#: Room below the card for the title block of the drawing, px.
ABOVE_TITLE: Final = 76
#: A page that is done stays so long, so that one sees what one did, ms.
LINGER_MS: Final = 700


@dataclass(frozen=True)
class Page:
    """One page: words, the widget they are about, when it is done, and how it is done for somebody."""

    title: str
    text: str
    about: Callable[[], QWidget]
    done: Callable[[], bool]
    do: Callable[[], object] | None = None


class TourCard(QWidget):
    """The card. It takes no focus by itself, so that keys still reach the window."""

    next_asked = Signal()
    skip_asked = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.count = ThemedLabel("", "ink2", Type.LABEL, parent=self)
        self.title = ThemedLabel("", "ink", Type.HEAD, Type.SEMIBOLD, self)
        self.text = ThemedLabel("", "ink", Type.TEXT, parent=self)
        for label in (self.title, self.text):
            label.setWordWrap(True)
        self.next = VerbButton(self.tr("Next"), self, primary=True)
        self.next.clicked.connect(self.next_asked)
        self.skip = VerbButton(self.tr("End the tour"), self)
        self.skip.clicked.connect(self.skip_asked)
        for button in (self.next, self.skip):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        close = IconButton("close", self.tr("End the tour"), self)
        close.clicked.connect(self.skip_asked)
        head = QHBoxLayout()
        head.addWidget(self.count, 1)
        head.addWidget(close)
        foot = QHBoxLayout()
        foot.setSpacing(Space.S)
        foot.addWidget(self.next)
        foot.addWidget(self.skip)
        foot.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.L, Space.S, Space.S, Space.L)
        column.setSpacing(Space.S)
        column.addLayout(head)
        for widget in (self.title, self.text):
            column.addWidget(widget)
        column.addSpacing(Space.S)
        column.addLayout(foot)

    def show_page(self, number: int, count: int, page: Page, last: bool) -> None:
        """Put up a page."""
        self.count.setText(self.tr("Tour, {0} of {1}").format(number, count))
        self.title.setText(page.title)
        self.text.setText(page.text)
        self.next.setText(self.tr("Done") if last else self.tr("Next"))
        self.skip.setVisible(not last)
        self.setAccessibleName(f"{page.title} {page.text}")
        self.setFixedWidth(round(WIDTH * scale()))
        self.layout().activate()
        self.adjustSize()
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        framed(QPainter(self), QRectF(self.rect()), line="ink", width=1.5)


class Halo(QWidget):
    """A frame round what a page is about; the mouse goes through it."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.setPen(QPen(colour("ledge"), 3))
        painter.drawRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5))


class Tour(QObject):
    """Leads through one job. ``finished`` tells whether it was walked to its end."""

    finished = Signal(bool)

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self._index = -1
        self._pages: list[Page] = []
        self._wishes: RowWishes | None = None
        self._card: TourCard | None = None
        self._halo: Halo | None = None
        self._turning = QTimer(self, singleShot=True, interval=LINGER_MS)
        self._turning.timeout.connect(lambda: self._turn_to(self._index + 1))

    @property
    def running(self) -> bool:
        """Whether a page is shown."""
        return self._index >= 0

    @property
    def page(self) -> int:
        """Number of the page that is shown, from 0; -1 when the tour is not running."""
        return self._index

    def start(self) -> None:
        """Open the sample, unless it lies on the bench untouched, and show the first page."""
        self.stop()
        window, job = self._window, self._window.bench.job
        source = job.part.source if job is not None else None
        fresh = source is not None and source.path == sample_path(SAMPLE) and not window.store.history
        if not fresh:
            window.open(sample_path(SAMPLE))
        self._pages = [*self._finding(), *self._trying(), *self._finishing()]
        self._card, self._halo = TourCard(window), Halo(window)
        self._card.next_asked.connect(self._next)
        self._card.skip_asked.connect(self.stop)
        window.installEventFilter(self)
        for signal in (window.bench.refreshed, window.store.history_changed, window.bench.written):
            signal.connect(self._look)
        self._opened = fresh
        self._turn_to(0)

    def stop(self) -> None:
        """End the tour where it is. Harmless when it is not running."""
        if self.running:
            self._end(walked=False)

    def _finding(self) -> list[Page]:
        w, bench = self._window, self._window.bench
        return [
            Page(
                _tr("A hood with a free lip"),
                _tr(
                    "This rain hood of a weather station lies on the bed as its designer filed it. The lip in front "
                    "ends in mid-air above a fin. The program is looking for what will sag."
                ),
                lambda: w.view,
                lambda: bench.results.inspection is not None,
            ),
            Page(
                _tr("The worst comes first"),
                _tr("The job sheet lists what would sag. Press {0}, and the first gap gets a row of teeth.").format(
                    self._keys("take")
                ),
                lambda: w.sheet.lines[SPOTS],
                lambda: bench.job is not None and bench.job.draft is not None and bench.draft_design() is not None,
                w.enter,
            ),
        ]

    def _trying(self) -> list[Page]:
        w = self._window
        return [
            Page(
                _tr("The row, to scale"),
                _tr(
                    "The elevation shows the gap unrolled: the lip above, the ledge below, the teeth between. Drag a "
                    "tooth along the edge, or type another count on the job sheet."
                ),
                lambda: w.elevation,
                self._changed,
                self._change,
            ),
            Page(
                _tr("Nothing is lost"),
                _tr("Whatever you do is one step. Press {0} to take it back; the edit menu brings it again.").format(
                    self._keys("undo")
                ),
                lambda: w.sheet.lines[TEETH],
                lambda: bool(w.store.undone),
                w.store.undo,
            ),
        ]

    def _finishing(self) -> list[Page]:
        w, bench = self._window, self._window.bench
        return [
            Page(
                _tr("Add the row"),
                _tr(
                    "The job sheet says whether the teeth will print and how hard they are to snap. {0} adds them."
                ).format(self._keys("take")),
                lambda: w.sheet.lines[TEETH],
                lambda: bench.job is not None and bool(bench.job.rows),
                bench.add_row,
            ),
            Page(
                _tr("Hand it over"),
                _tr(
                    "With your own part, {0} writes the mesh with its teeth beside the original. For this sample "
                    "choose a folder with {1}, or leave it at that. Wear eye protection when you snap teeth off: "
                    "pieces fly."
                ).format(self._keys("hand_over"), self._keys("hand_over_as")),
                lambda: w.sheet.lines[HAND_OVER],
                lambda: bench.results.handed is not None,
            ),
        ]

    def _keys(self, name: str) -> str:
        keys = self._window.actions_by_name[name].shortcut()
        return keys.toString(QKeySequence.SequenceFormat.NativeText) or self._window.actions_by_name[name].text()

    def _changed(self) -> bool:
        job = self._window.bench.job
        return job is not None and job.draft is not None and job.draft.wishes != self._wishes

    def _change(self) -> None:
        design = self._window.bench.draft_design()
        if design is not None:
            self._window.bench.wish(_tr("One tooth more"), teeth=design.plan.teeth + 1)

    def _next(self) -> None:
        """Go on; what the page asks for is done for the person who has not done it."""
        self._turning.stop()
        if self._index == len(self._pages) - 1:
            self._end(walked=True)
            return
        page, index = self._pages[self._index], self._index
        if not page.done() and page.do is not None:
            page.do()
            if self._index == index and page.done():
                self._turning.stop()
                self._turn_to(index + 1)
        elif page.done():
            self._turn_to(self._index + 1)

    def _look(self, *_: object) -> None:
        """Something happened: the page may be done, or the sample may be gone."""
        if not self.running:
            return
        if self._gone():
            self.stop()
            return
        last = self._index == len(self._pages) - 1
        if self._pages[self._index].done() and not self._turning.isActive():
            if last:
                self._end(walked=True)
            else:
                self._turning.start()
        self._place()

    def _gone(self) -> bool:
        """Whether the sample was on the bench and is there no more."""
        job = self._window.bench.job
        here = job is not None and job.part.source is not None and job.part.source.path == sample_path(SAMPLE)
        gone = self._opened and not here
        self._opened = self._opened or here
        return gone

    def _turn_to(self, index: int) -> None:
        self._index = index
        job = self._window.bench.job
        self._wishes = job.draft.wishes if job is not None and job.draft is not None else None
        assert self._card is not None
        assert self._halo is not None
        self._card.show_page(index + 1, len(self._pages), self._pages[index], index == len(self._pages) - 1)
        for widget in (self._halo, self._card):
            widget.show()
            widget.raise_()
        self._place()
        self._look()

    def _place(self) -> None:
        if self._card is None or self._halo is None or not self.running:
            return
        field = self._in_window(self._window.view) if self._window.view.isVisible() else self._window.rect()
        self._card.move(
            field.right() - self._card.width() - Space.XXL, field.bottom() - self._card.height() - ABOVE_TITLE
        )
        target = self._pages[self._index].about()
        self._halo.setVisible(target.isVisible())
        if target.isVisible():
            self._halo.setGeometry(self._in_window(target))

    def _in_window(self, widget: QWidget) -> QRect:
        return QRect(widget.mapTo(self._window, widget.rect().topLeft()), widget.size())

    def _end(self, *, walked: bool) -> None:
        self._index = -1
        self._turning.stop()
        self._window.removeEventFilter(self)
        for signal in (self._window.bench.refreshed, self._window.store.history_changed, self._window.bench.written):
            signal.disconnect(self._look)
        for widget in (self._card, self._halo):
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._card = self._halo = None
        self.finished.emit(walked)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        if watched is self._window and event.type() in (QEvent.Type.Resize, QEvent.Type.LayoutRequest):
            QTimer.singleShot(0, self, self._place)
        return super().eventFilter(watched, event)


def _tr(text: str) -> str:
    return QCoreApplication.translate("Tour", text)
