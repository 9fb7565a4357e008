"""Whether words have room: what is cut off on the screen, by name."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QAbstractScrollArea, QCheckBox, QLabel, QPushButton, QRadioButton, QWidget

#: Layouts round, and buttons keep some padding: so many pixels are not missed.
SLACK = 4
_NEVER = Qt.ScrollBarPolicy.ScrollBarAlwaysOff


def cut_off(top: QWidget) -> list[str]:
    """Visible buttons and labels below ``top`` whose words do not fit, each with where and by how much."""
    return [f"{_path(w, top)} “{_words(w)}”: {why}" for w in _said(top) if (why := _wrong(w, top))]


def _said(top: QWidget) -> Iterator[QWidget]:
    for widget in top.findChildren(QWidget):
        if (
            isinstance(widget, QPushButton | QCheckBox | QRadioButton | QLabel)
            and widget.isVisible()
            and _words(widget)
        ):
            yield widget


def _words(widget: QWidget) -> str:
    return str(widget.text())  # type: ignore[attr-defined]


def _wrong(widget: QWidget, top: QWidget) -> str:
    if isinstance(widget, QLabel) and widget.wordWrap():
        if widget.heightForWidth(widget.width()) > widget.height() + SLACK:
            return f"needs {widget.heightForWidth(widget.width())} px of height, has {widget.height()}"
        return ""
    if widget.sizeHint().width() > widget.width() + SLACK:
        return f"needs {widget.sizeHint().width()} px, has {widget.width()}"
    shown, parent = QRect(QPoint(0, 0), widget.size()), widget
    while parent is not top:
        above = parent.parentWidget()
        shown = shown.translated(parent.pos())
        area = above.parentWidget()
        if isinstance(area, QAbstractScrollArea) and area.horizontalScrollBarPolicy() != _NEVER:
            return ""  # what is hidden can be scrolled to
        if shown.right() > above.width() + SLACK:
            return f"reaches {shown.right() - above.width()} px beyond its {type(above).__name__}"
        parent = above
    return ""


def _path(widget: QWidget, top: QWidget) -> str:
    names, parent = [], widget
    while parent is not None and parent is not top:
        names.append(type(parent).__name__)
        parent = parent.parentWidget()
    return ".".join(reversed(names[:4]))
