"""The preferences: look and words, the setup of new jobs, and the keys."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent, QKeySequence, QPixmap
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QKeySequenceEdit,
    QLineEdit,
    QTabWidget,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import settings as remembered
from app.look.current import box_height
from app.look.fonts import text_font
from app.look.tokens import Space, Type
from app.panels.fields import FieldForm, settings_fields, setup_fields
from app.panels.widgets import Banner, LinkButton, ThemedLabel, VerbButton
from app.panels.widgets.finder import plain
from app.settings import Settings
from app.setups import Shelf
from app.shortcuts import Shortcuts
from core.design.setup import PrintSetup
from core.errors import SnapcombError

NAME: Final = Qt.ItemDataRole.UserRole
_NATIVE: Final = QKeySequence.SequenceFormat.NativeText


class Preferences(QDialog):
    """Every change is kept at once and told by ``changed`` with the setting's name; there is nothing to confirm."""

    changed = Signal(str)

    def __init__(self, settings: Settings, shortcuts: Shortcuts, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.settings = settings
        self.setWindowTitle(self.tr("Preferences"))
        self.setModal(False)
        self.look = FieldForm([*settings_fields("look"), *settings_fields("work")])
        self.setup = SetupPage(settings)
        self.keys = KeysPage(shortcuts)
        self.pages = QTabWidget()
        for page, title in (
            (_padded(self.look), self.tr("Look and words")),
            (_padded(self.setup), self.tr("Setup of new jobs")),
            (_padded(self.keys), self.tr("Keys")),
        ):
            self.pages.addTab(page, title)
        self.pages.setAccessibleName(self.tr("Pages of the preferences"))
        self.pages.tabBar().setAccessibleName(self.tr("Pages of the preferences"))
        self._lay_out()
        self.look.edited.connect(self._set)
        self.setup.changed.connect(lambda: self._keep("setup"))
        self.keys.changed.connect(lambda: self._keep("shortcuts"))
        self.refresh()
        self.resize(round(600 * text_scale()), round(520 * text_scale()))

    def _lay_out(self) -> None:
        done = VerbButton(self.tr("Done"), primary=True)
        done.clicked.connect(self.accept)
        foot = QHBoxLayout()
        foot.addStretch(1)
        foot.addWidget(done)
        column = QVBoxLayout(self)
        column.setContentsMargins(Space.XL, Space.L, Space.XL, Space.XL)
        column.setSpacing(Space.L)
        column.addWidget(self.pages, 1)
        column.addLayout(foot)

    def refresh(self) -> None:
        """Show the settings as they are, for instance after the theme was changed elsewhere."""
        self.look.set_values({name: getattr(self.settings, name) for name in self.look.controls})
        self.setup.refresh()

    def _set(self, name: str, value: Any) -> None:
        setattr(self.settings, name, value)
        if name == "unit":
            self.setup.refresh()
        self._keep(name)

    def _keep(self, name: str) -> None:
        remembered.save(self.settings)
        self.changed.emit(name)


def text_scale() -> float:
    """How much larger than drawn the letters are."""
    return text_font(100).pixelSize() / 100


def _padded(page: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(Space.XS, Space.L, Space.XS, 0)
    column.addWidget(page)
    return holder


class SetupPage(QWidget):
    """The setup that a new job begins with. A figure that makes no sense is refused in words and changes nothing."""

    changed = Signal()

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.form = FieldForm(setup_fields(tuple(m.name for m in Shelf(settings).materials())))
        self.form.edited.connect(self._set)
        self.back = LinkButton(self.tr("Back to the defaults"))
        self.back.clicked.connect(self._reset)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.L)
        words = ThemedLabel(
            self.tr("What your printer lays down. Jobs that are open keep the setup that they have."), "ink2"
        )
        words.setWordWrap(True)
        column.addWidget(words)
        column.addWidget(self.form, 1)
        column.addWidget(self.back)

    def setup(self) -> PrintSetup:
        """The setup of new jobs as it is kept."""
        return Shelf(self._settings).current().setup

    def refresh(self) -> None:
        """Show the setup as it is kept."""
        kept = self.setup()
        self.form.set_unit(self._settings.unit)
        self.form.set_values({name: getattr(kept, name) for name in self.form.controls})
        self.back.setEnabled(kept != PrintSetup())

    def _set(self, name: str, value: Any) -> None:
        shelf, kept = Shelf(self._settings), Shelf(self._settings).current()
        named = value if name == "material" else kept.setup.material
        own = next((m for m in shelf.materials() if m.name == named), None)
        try:
            wished = replace(kept, setup=replace(kept.setup, **{name: value, "own": own}))
        except SnapcombError as problem:
            self.form.set_error(name, str(problem))
            return
        self.form.set_error(name, "")
        shelf.use(wished)
        self.refresh()
        self.changed.emit()

    def _reset(self) -> None:
        self._settings.setup = {}
        self.refresh()
        self.changed.emit()


class _KeysEdit(QKeySequenceEdit):
    """Takes one stroke. Tab leaves it, so that the keyboard is not caught."""

    def __init__(self) -> None:
        super().__init__()
        self.setMaximumSequenceLength(1)
        self.setClearButtonEnabled(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        if event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            forward = event.key() == Qt.Key.Key_Tab
            self.focusNextPrevChild(forward)
            return
        super().keyPressEvent(event)

    def event(self, event: object) -> bool:
        if isinstance(event, QKeyEvent) and event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            if event.type() == QKeyEvent.Type.KeyPress:
                self.keyPressEvent(event)
            return True
        return super().event(event)


class KeysPage(QWidget):
    """All actions with their keys; the keys of the chosen one are taken from the keyboard."""

    changed = Signal()

    def __init__(self, shortcuts: Shortcuts) -> None:
        super().__init__()
        self.shortcuts = shortcuts
        self._wished: tuple[str, QKeySequence] | None = None
        self.search = QLineEdit()
        self.search.setPlaceholderText(self.tr("Search an action or its keys"))
        self.search.setAccessibleName(self.tr("Search an action or its keys"))
        self.search.textChanged.connect(self._filter)
        self.list = QTreeWidget()
        self.list.setAccessibleName(self.tr("Actions and their keys"))
        self.list.setHeaderLabels([self.tr("Action"), self.tr("Keys")])
        self.list.setRootIsDecorated(False)
        self.list.setUniformRowHeights(True)
        self.list.header().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.list.header().setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        self.list.header().setStretchLastSection(False)
        self.list.currentItemChanged.connect(lambda *_: self._show_current())
        self.edit = _KeysEdit()
        self.edit.setAccessibleName(self.tr("Press the new keys"))
        self.edit.findChild(QLineEdit).setAccessibleName(self.tr("Press the new keys"))
        self.edit.keySequenceChanged.connect(self._typed)
        self.clear = VerbButton(self.tr("No keys"))
        self.clear.clicked.connect(lambda: self._take(self.name(), QKeySequence()))
        self.back = VerbButton(self.tr("Default"))
        self.back.clicked.connect(self._reset)
        self.all_back = LinkButton(self.tr("All keys back to the defaults"))
        self.all_back.clicked.connect(self._reset_all)
        self.trouble = Banner()
        self.trouble.chosen.connect(self._answered)
        self.trouble.hide()
        self._lay_out()
        self._fill()

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setSpacing(Space.S)
        self.edit.setMinimumHeight(box_height())
        for widget in (self.edit, self.clear, self.back):
            line.addWidget(widget, 1 if widget is self.edit else 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.M)
        column.addWidget(self.search)
        column.addWidget(self.list, 1)
        self.caption = ThemedLabel("", "ink2", Type.LABEL)
        column.addWidget(self.caption)
        column.addLayout(line)
        column.addWidget(self.trouble)
        column.addWidget(self.all_back)

    def _fill(self) -> None:
        blank = QIcon(_blank())
        for name, action in self.shortcuts.actions.items():
            item = QTreeWidgetItem(self.list, [_words(action.text()), ""])
            item.setIcon(0, blank if action.icon().isNull() else action.icon())
            item.setData(0, NAME, name)
        self._refresh()
        self.list.setCurrentItem(self.list.topLevelItem(0))

    def name(self) -> str:
        """The action that is chosen."""
        item = self.list.currentItem()
        return "" if item is None else item.data(0, NAME)

    def _refresh(self) -> None:
        for k in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(k)
            name = item.data(0, NAME)
            item.setText(0, _words(self.shortcuts.actions[name].text()))
            item.setText(1, self.shortcuts.keys(name).toString(_NATIVE))
            font = text_font(Type.TEXT, Type.SEMIBOLD if self.shortcuts.changed(name) else Type.REGULAR)
            item.setFont(1, font)
        self._show_current()

    def _show_current(self) -> None:
        name = self.name()
        self._wished = None
        self.trouble.hide()
        for widget in (self.edit, self.clear, self.back):
            widget.setEnabled(bool(name))
        if not name:
            return
        keys = self.shortcuts.keys(name)
        self.caption.setText(self.tr("Keys for “{0}”: click and press them").format(self._title(name)))
        self.edit.blockSignals(True)
        self.edit.setKeySequence(keys)
        self.edit.blockSignals(False)
        self.clear.setEnabled(not keys.isEmpty())
        self.back.setEnabled(self.shortcuts.changed(name))
        self.all_back.setEnabled(any(self.shortcuts.changed(n) for n in self.shortcuts.actions))

    def _title(self, name: str) -> str:
        return _words(self.shortcuts.actions[name].text())

    def _typed(self, keys: QKeySequence) -> None:
        name, shown = self.name(), keys.toString(_NATIVE)
        if not name or keys.isEmpty() or keys == self.shortcuts.keys(name):
            return
        if not self.shortcuts.may_have(keys):
            self._show_current()
            self._say(self.tr("{0} steers the window itself. Choose other keys.").format(shown), ())
            return
        other = self.shortcuts.holder(keys, but=name)
        if other is None:
            self._take(name, keys)
            return
        self._wished = (name, keys)
        words = self.tr("{0} belongs to “{1}”, which would have none then.").format(shown, self._title(other))
        self._say(words, (("take", self.tr("Take them")), ("leave", self.tr("Leave them"))))

    def _say(self, words: str, steps: tuple[tuple[str, str], ...]) -> None:
        self.trouble.show_message(words, steps)
        self.trouble.show()

    def _answered(self, word: str) -> None:
        if word == "take" and self._wished is not None:
            self._take(*self._wished)
        else:
            self._show_current()

    def _take(self, name: str, keys: QKeySequence) -> None:
        self.shortcuts.choose(name, keys)
        self._refresh()
        self.changed.emit()

    def _reset(self) -> None:
        self.shortcuts.reset(self.name())
        self._refresh()
        self.changed.emit()

    def _reset_all(self) -> None:
        self.shortcuts.reset_all()
        self._refresh()
        self.changed.emit()

    def _filter(self, text: str) -> None:
        words = text.casefold().split()
        for k in range(self.list.topLevelItemCount()):
            item = self.list.topLevelItem(k)
            field = f"{item.text(0)} {item.text(1)}".casefold()
            item.setHidden(not all(word in field for word in words))


def _blank() -> QPixmap:
    """Stands where an action has no icon, so that all names begin on one line."""
    empty = QPixmap(16, 16)
    empty.fill(Qt.GlobalColor.transparent)
    return empty


def _words(text: str) -> str:
    """An action's name without its mark; what undo and redo name after a colon changes all the time and is left off."""
    return plain(text).partition(": ")[0]
