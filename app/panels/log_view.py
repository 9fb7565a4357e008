"""What the program has noted down, and what it runs on, to be read and to be copied into a report."""

from __future__ import annotations

import os
import platform
from importlib.metadata import PackageNotFoundError, version
from typing import Final

from PySide6.QtCore import QLibraryInfo, QLocale, Qt, QTimer, QUrl
from PySide6.QtGui import QDesktopServices, QFontDatabase, QGuiApplication
from PySide6.QtWidgets import QCheckBox, QDialog, QHBoxLayout, QPlainTextEdit, QTabWidget, QVBoxLayout, QWidget

from app.commands.doctor import LIBRARIES
from app.commands.status import program_version
from app.keeping import log
from app.look.fonts import scale
from app.look.tokens import Space, Type
from app.panels.widgets import LinkButton, ThemedLabel, VerbButton

#: How often the log is read again while it is shown, ms.
AGAIN_MS: Final = 1500
LINES: Final = 800
_GRAVE: Final = (" WARNING ", " ERROR ", " CRITICAL ")


def system_information(renderer: str = "") -> str:
    """Versions, system, screen and renderer in lines that say nothing about the person or their files."""
    app = QGuiApplication.instance()
    lines = [
        f"Snapcomb {program_version()}",
        f"Python {platform.python_version()} ({platform.machine()}), {platform.platform()}",
        f"Qt {QLibraryInfo.version().toString()}, platform {QGuiApplication.platformName()}",
        f"OpenGL renderer: {renderer or 'not known yet'}",
        f"Locale: {QLocale.system().name()}, processors: {os.cpu_count()}",
    ]
    if isinstance(app, QGuiApplication):
        lines += [
            f"Screen: {s.size().width()} × {s.size().height()} at scale {s.devicePixelRatio():g}" for s in app.screens()
        ]
    return "\n".join([*lines, *(f"{name} {_version(name)}" for name in LIBRARIES)])


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"


class LogView(QDialog):
    """Two pages, the log and the system, each with a button that copies it."""

    def __init__(self, renderer: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Log and system"))
        self.setModal(False)
        self._renderer = renderer
        self.lines, self.system = _page(self.tr("The log, newest line last")), _page(self.tr("System information"))
        self.system.setPlainText(system_information(renderer))
        self.grave = QCheckBox(self.tr("Only warnings and errors"))
        self.grave.toggled.connect(lambda: self.refresh(whole=True))
        self.pages = QTabWidget()
        self.pages.addTab(self._log_page(), self.tr("Log"))
        self.pages.addTab(self._padded(self.system), self.tr("System"))
        self.pages.tabBar().setAccessibleName(self.tr("Pages of the log view"))
        self._lay_out()
        self._shown: list[str] = []
        self._again = QTimer(self, interval=AGAIN_MS)
        self._again.timeout.connect(self.refresh)
        self.resize(round(720 * scale()), round(480 * scale()))

    def _log_page(self) -> QWidget:
        page = self._padded(self.lines)
        row = QHBoxLayout()
        row.addWidget(self.grave)
        row.addStretch(1)
        self.where = ThemedLabel("", "ink3", Type.LABEL)
        self.where.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        row.addWidget(self.where)
        layout = page.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.addLayout(row)
        return page

    def _padded(self, text: QPlainTextEdit) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, Space.M, 0, 0)
        column.setSpacing(Space.S)
        column.addWidget(text, 1)
        return page

    def _lay_out(self) -> None:
        self.copy = VerbButton(self.tr("Copy this page"))
        self.copy.clicked.connect(self._copy)
        self.folder = LinkButton(self.tr("Open the folder"))
        self.folder.clicked.connect(self._open_folder)
        done = VerbButton(self.tr("Done"), primary=True)
        done.clicked.connect(self.accept)
        foot = QHBoxLayout()
        foot.setSpacing(Space.M)
        for widget in (self.copy, self.folder):
            foot.addWidget(widget)
        foot.addStretch(1)
        foot.addWidget(done)
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.XL, Space.L, Space.XL, Space.XL)
        column.setSpacing(Space.L)
        column.addWidget(self.pages, 1)
        column.addLayout(foot)

    def refresh(self, *, whole: bool = False) -> None:
        """Read the log again; one who reads further up is left there."""
        found = [line for line in log.last_lines(LINES) if not self.grave.isChecked() or _is_grave(line)]
        if found == self._shown and not whole:
            return
        bar = self.lines.verticalScrollBar()
        at_end = bar.value() >= bar.maximum() - 2
        self._shown = found
        self.lines.setPlainText("\n".join(found) or self.tr("Nothing has been noted down."))
        if at_end:
            bar.setValue(bar.maximum())
        self.where.setText(str(log.log_path().parent))

    def _copy(self) -> None:
        page = self.system if self.pages.currentIndex() == 1 else self.lines
        QGuiApplication.clipboard().setText(page.toPlainText())

    def _open_folder(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(log.log_path().parent)))

    def showEvent(self, event: object) -> None:  # noqa: N802
        super().showEvent(event)
        self.refresh(whole=True)
        self.lines.verticalScrollBar().setValue(self.lines.verticalScrollBar().maximum())
        self._again.start()

    def hideEvent(self, event: object) -> None:  # noqa: N802
        self._again.stop()
        super().hideEvent(event)


def _is_grave(line: str) -> bool:
    """A line of a traceback belongs to the error above it."""
    return any(word in line for word in _GRAVE) or not line[:4].isdigit()


def _page(name: str) -> QPlainTextEdit:
    page = QPlainTextEdit()
    page.setReadOnly(True)
    page.setAccessibleName(name)
    page.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
    page.setTabChangesFocus(True)
    font = QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont)
    font.setPixelSize(round(Type.LABEL * scale()))
    page.setFont(font)
    return page
