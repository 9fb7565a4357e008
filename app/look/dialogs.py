"""File dialogs in our look: Qt's own dialog with our icons, so that no desktop's comes between."""

from __future__ import annotations

from PySide6.QtCore import QFileInfo
from PySide6.QtGui import QAbstractFileIconProvider, QIcon
from PySide6.QtWidgets import QComboBox, QFileDialog, QWidget

from app.look.icons import icon

_Kind = QAbstractFileIconProvider.IconType


class _Icons(QAbstractFileIconProvider):
    def icon(self, what: QAbstractFileIconProvider.IconType | QFileInfo) -> QIcon:
        if isinstance(what, QFileInfo):
            return icon("folder" if what.isDir() else "file")
        return icon("file" if what == _Kind.File else "folder")


_icons: list[_Icons] = []


def file_dialog(parent: QWidget | None, title: str, folder: str = "", kinds: str = "") -> QFileDialog:
    """A file dialog to be set up and run by the caller; ``kinds`` as in “Meshes (*.stl *.3mf)”."""
    dialog = QFileDialog(parent, title, folder, kinds)
    dialog.setOption(QFileDialog.Option.DontUseNativeDialog)
    if not _icons:
        _icons.append(_Icons())  # the dialog does not own it
    dialog.setIconProvider(_icons[0])
    dialog.setSidebarUrls(dialog.sidebarUrls())
    box = dialog.findChild(QComboBox, "lookInCombo")
    for k in range(box.count() if isinstance(box, QComboBox) else 0):
        box.setItemIcon(k, icon("folder"))  # what was listed before the icons came
    return dialog
