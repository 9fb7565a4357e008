"""Keys of the window's actions: what they are by default, what the person chose, and whether two would clash."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from PySide6.QtGui import QAction, QKeySequence

from app.settings import Settings

#: These steer every window and dialog and cannot be given to an action.
RESERVED: Final = ("Esc", "Tab", "Shift+Tab", "Backtab", "Space")
_PORTABLE: Final = QKeySequence.SequenceFormat.PortableText


class Shortcuts:
    """Knows the default keys of the actions, which it reads when it is made, and puts the chosen ones on."""

    def __init__(self, actions: Mapping[str, QAction], settings: Settings) -> None:
        self.actions, self._settings = dict(actions), settings
        self._defaults = {name: action.shortcuts() for name, action in self.actions.items()}
        for name in self.actions:
            self._put_on(name)

    def keys(self, name: str) -> QKeySequence:
        """The keys of an action as they are now; empty for none."""
        return self.actions[name].shortcut()

    def changed(self, name: str) -> bool:
        """Whether the person chose other keys than the default."""
        return name in self._settings.shortcuts

    def holder(self, keys: QKeySequence, but: str = "") -> str | None:
        """Name of the action, other than ``but``, that has these keys."""
        if keys.isEmpty():
            return None
        found = (
            n for n, a in self.actions.items() if n != but and any(s.matches(keys) == _EXACT for s in a.shortcuts())
        )
        return next(found, None)

    def may_have(self, keys: QKeySequence) -> bool:
        """Whether an action may have these keys at all."""
        return keys.toString(_PORTABLE) not in RESERVED

    def choose(self, name: str, keys: QKeySequence) -> None:
        """Give an action other keys (or none), taking them from whatever action had them."""
        other = self.holder(keys, but=name)
        if other is not None:
            self._settings.shortcuts[other] = ""
            self._put_on(other)
        default = self._defaults[name]
        if keys == (default[0] if default else QKeySequence()):
            self._settings.shortcuts.pop(name, None)
        else:
            self._settings.shortcuts[name] = keys.toString(_PORTABLE)
        self._put_on(name)

    def reset(self, name: str) -> None:
        """The default keys again, taken back from whatever action has them now."""
        default = self._defaults[name]
        self.choose(name, default[0] if default else QKeySequence())

    def reset_all(self) -> None:
        """All keys as they were."""
        self._settings.shortcuts.clear()
        for name in self.actions:
            self._put_on(name)

    def _put_on(self, name: str) -> None:
        chosen = self._settings.shortcuts.get(name)
        if chosen is None:
            self.actions[name].setShortcuts(self._defaults[name])
        else:
            self.actions[name].setShortcut(QKeySequence(chosen, _PORTABLE))


_EXACT: Final = QKeySequence.SequenceMatch.ExactMatch
