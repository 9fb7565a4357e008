"""What a screen reader is told, and where the Tab key stops, below a window."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAccessible, QAccessibleInterface
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QKeySequenceEdit,
    QLineEdit,
    QMenuBar,
    QPlainTextEdit,
    QWidget,
)

from app.panels.widgets.buttons import Stepper
from app.panels.widgets.segmented import Segmented

_R = QAccessible.Role
#: Roles that a person does something with.
TAKES = (
    _R.Button, _R.ButtonMenu, _R.CheckBox, _R.RadioButton, _R.EditableText, _R.ComboBox, _R.SpinBox, _R.Slider, _R.List,
    _R.Table, _R.Tree, _R.PageTab, _R.PageTabList, _R.MenuItem, _R.MenuBar, _R.Link, _R.Canvas, _R.Graphic,
)  # fmt: skip
_TAKEN = (QAbstractButton, QLineEdit, QPlainTextEdit, QAbstractItemView, QComboBox)


def said(top: QWidget) -> Iterator[QAccessibleInterface]:
    """Everything that a screen reader finds below a widget, as far as it is to be seen."""
    yield from _below(QAccessible.queryAccessibleInterface(top))


def _below(one: QAccessibleInterface | None) -> Iterator[QAccessibleInterface]:
    if one is None or not one.isValid() or one.state().invisible:
        return
    yield one
    for k in range(one.childCount()):
        yield from _below(one.child(k))


def unnamed(top: QWidget) -> list[str]:
    """What can be used but has no name, by kind and place."""
    return [
        f"{one.role().name} {path(one.object(), top)}"
        for one in said(top)
        if one.role() in TAKES and not one.text(QAccessible.Text.Name).strip()
    ]


def unheard(top: QWidget) -> list[str]:
    """Widgets that can be used but are not in the tree of a screen reader.

    A menu bar tells of its menus only; what stands in its corner says again what stands in them.
    """
    heard = {id(one.object()) for one in said(top)}
    bars = top.findChildren(QMenuBar)
    return [path(w, top) for w in usable(top) if id(w) not in heard and not any(b.isAncestorOf(w) for b in bars)]


def usable(top: QWidget) -> list[QWidget]:
    """Visible widgets that take a click or letters."""
    kinds = [w for w in top.findChildren(QWidget) if isinstance(w, _TAKEN) and not isinstance(w, QHeaderView)]
    kinds = [w for w in kinds if not isinstance(w.parent(), QKeySequenceEdit)]  # it lends its line to the box around it
    return [w for w in kinds if w.isVisible() and w.isEnabled() and w.window() is top.window()]


def out_of_reach(top: QWidget) -> list[str]:
    """Widgets that can be used but that neither Tab nor the keys of a neighbour lead to."""
    return [path(w, top) for w in usable(top) if not (w.focusPolicy() & Qt.FocusPolicy.TabFocus) and not _by_keys(w)]


def _by_keys(widget: QWidget) -> bool:
    """Arrow keys go from choice to choice of one strip, and count in the box of a stepper."""
    strip = widget.parentWidget()
    while strip is not None and not isinstance(strip, Segmented | Stepper):
        strip = strip.parentWidget()
    inside = strip.findChildren(QWidget) if strip is not None else []
    return any(w.focusPolicy() & Qt.FocusPolicy.TabFocus for w in inside) or (
        isinstance(strip, Stepper) and strip.parentWidget() is not None
    )


def stops(top: QWidget) -> list[QWidget]:
    """Where Tab stops, in order, by pressing it until it comes round."""
    first = top.nextInFocusChain()
    while not (first.isVisible() and first.isEnabled() and first.focusPolicy() & Qt.FocusPolicy.TabFocus):
        first = first.nextInFocusChain()
    first.setFocus(Qt.FocusReason.TabFocusReason)
    found: list[QWidget] = []
    while (now := top.window().focusWidget()) is not None and now not in found:
        found.append(now)
        QTest.keyClick(now, Qt.Key.Key_Tab)
    return found


def jumps_back(found: list[QWidget], within: QWidget) -> list[str]:
    """Stops inside a column that stand above the one before: one would have to look up again."""
    inside = [w for w in found if within.isAncestorOf(w)]
    tops = [w.mapTo(within, QPoint(0, w.height())).y() for w in inside]
    return [
        f"{path(b, within)} after {path(a, within)}"
        for a, b, low_a, high_b in zip(
            inside, inside[1:], [t - w.height() for t, w in zip(tops, inside, strict=True)], tops[1:], strict=False
        )
        if high_b <= low_a
    ]


def path(widget: object, top: QWidget) -> str:
    """A widget by its name and what it is in."""
    names: list[str] = []
    while isinstance(widget, QWidget) and widget is not top:
        words = widget.accessibleName() or widget.windowTitle() or widget.property("text")
        names.append(f"{type(widget).__name__}“{words}”")
        widget = widget.parentWidget()
    return " < ".join(names[:4])
