"""What the window is made of, and where each piece sits."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QHBoxLayout, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from app import settings
from app.bench import Bench
from app.look.tokens import Space, Type
from app.panels.elevation.panel import ElevationPanel
from app.panels.job_sheet import JobSheet
from app.panels.start_page import StartPage
from app.panels.widgets import Banner, Choice, IconButton, Segmented, ThemedLabel
from app.scene import Scene
from app.setups import Shelf
from app.store import Store
from app.view.viewport import Viewport
from app.work.runner import Runner, WorkerRunner


class WindowFrame(QMainWindow):
    """The pieces: store, bench, view, panels, status line."""

    actions_by_name: dict[str, QAction]

    def __init__(self, runner: Runner | None, remembered: settings.Settings | None, view: Viewport | None) -> None:
        super().__init__()
        self._lent = view is not None
        self.remembered = remembered or settings.load()
        self.store = Store()
        self.runner = runner or WorkerRunner()
        self.shelf = Shelf(self.remembered)
        kept = self.shelf.current()
        self.bench = Bench(self.store, self.runner, kept.setup)
        self.bench.lessons = kept.lessons
        self.bench.view.unit = "inch" if self.remembered.unit == "inch" else "millimeter"
        self.view = view or Viewport()
        self.scene = Scene(self.bench, self.view)
        self.sheet = JobSheet(self.bench)
        self.elevation = ElevationPanel(self.bench, eye=lambda: self.view.camera.eye)
        self.start = StartPage()
        self.resize(QSize(1440, 900))

    def _lay_out(self) -> None:
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.view, 1)
        column.addWidget(self.elevation)
        work = QWidget()
        row = QHBoxLayout(work)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self.sheet)
        row.addWidget(right, 1)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.start)
        self.pages.addWidget(work)
        self.banner = Banner(wide=True, dismissable=True)
        self.banner.hide()
        outer = QWidget()
        whole = QVBoxLayout(outer)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.banner)
        whole.addWidget(self.pages, 1)
        whole.addWidget(self._status_line())
        self.setCentralWidget(outer)

    def _status_line(self) -> QWidget:
        line = QWidget()
        line.setFixedHeight(Space.STATUS)
        row = QHBoxLayout(line)
        row.setContentsMargins(Space.XL, 0, Space.XL, 0)
        row.setSpacing(Space.L)
        self.hint = ThemedLabel("", "ink", Type.TEXT, Type.SEMIBOLD)
        self.progress = ThemedLabel("", "ink2", Type.LABEL)
        self.cursor_label = ThemedLabel("", "ink2", Type.LABEL)
        self.units = Segmented([Choice("millimeter", "mm"), Choice("inch", self.tr("inch"))], self.tr("Unit shown"))
        self.units.set_current(self.bench.view.unit)
        self.units.chosen.connect(self.set_unit)
        row.addWidget(self.hint, 1)
        row.addWidget(self.progress)
        row.addWidget(self.cursor_label)
        row.addWidget(self.units)
        return line

    def _corner(self) -> None:
        self._corner_holder = holder = QWidget(self.menuBar())  # the menu bar does not keep it alive
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, Space.M, 0)
        row.setSpacing(0)
        for name, action in (("job_sheet", "sheet"), ("theme", "theme"), ("settings", "setup")):
            button = IconButton(name, self.actions_by_name[action].text().replace("&", ""))
            button.clicked.connect(self.actions_by_name[action].trigger)
            row.addWidget(button)
        holder.setFixedSize(holder.sizeHint())
        self.menuBar().setCornerWidget(holder, Qt.Corner.TopRightCorner)
        holder.show()
