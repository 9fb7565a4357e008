"""The style sheet: one small text for each kind of stock widget, filled with the colours of the theme."""

from __future__ import annotations

from string import Template
from typing import Final

from app.look import current as look
from app.look import fonts
from app.look.tokens import Space, Theme, Type

# Stock icons and habits of the style. A style class in Python could say the same, but Qt asks a style many thousand
# times while it lays out and paints; here the answers stay in C++.
HABITS: Final = """
* { dialogbuttonbox-buttons-have-icons: 0; etch-disabled-text: 0; activate-on-singleclick: 0;
  widget-animation-duration: 0;
  messagebox-information-icon: url(look:note-$name.svg); messagebox-warning-icon: url(look:look-$name.svg);
  messagebox-critical-icon: url(look:look-$name.svg); messagebox-question-icon: url(look:help-$name.svg);
  directory-icon: url(look:folder-$name.svg); directory-open-icon: url(look:folder-$name.svg);
  directory-closed-icon: url(look:folder-$name.svg); directory-link-icon: url(look:folder-$name.svg);
  home-icon: url(look:folder-$name.svg);
  desktop-icon: url(look:folder-$name.svg); computer-icon: url(look:folder-$name.svg);
  harddisk-icon: url(look:folder-$name.svg);
  file-icon: url(look:file-$name.svg); file-link-icon: url(look:file-$name.svg);
  trash-icon: url(look:remove-$name.svg);
  filedialog-backward-icon: url(look:chevron_left-$name.svg);
  filedialog-parent-directory-icon: url(look:chevron_up-$name.svg);
  filedialog-new-directory-icon: url(look:plus-$name.svg);
  filedialog-detailedview-icon: url(look:job_sheet-$name.svg);
  filedialog-listview-icon: url(look:settings-$name.svg); filedialog-end-icon: url(look:chevron_right-$name.svg);
  backward-icon: url(look:chevron_left-$name.svg); forward-icon: url(look:chevron_right-$name.svg);
  leftarrow-icon: url(look:chevron_left-$name.svg); rightarrow-icon: url(look:chevron_right-$name.svg);
  uparrow-icon: url(look:chevron_up-$name.svg); downarrow-icon: url(look:chevron_down-$name.svg);
  titlebar-close-icon: url(look:close-$name.svg); dockwidget-close-icon: url(look:close-$name.svg);
  lineedit-clear-button-icon: url(look:close-$name.svg); }
QComboBox { combobox-popup: 0; }
"""

GROUND: Final = """
QMainWindow, QDialog, QMessageBox, QWizard { background: $paper; color: $ink; }
QToolTip { background: $sheet; color: $ink; border: 1px solid $line; padding: 4px 8px; }
QScrollArea, QAbstractScrollArea#plain { background: transparent; border: none; }
QSplitter::handle { background: $paper; }
QSplitter::handle:vertical { border-top: 1px solid $rule; }
QSplitter::handle:horizontal { border-left: 1px solid $rule; }
QStatusBar { background: $paper; border-top: 1px solid $rule; padding-left: 12px; }
QSizeGrip { image: none; width: 0; height: 0; }
QStatusBar::item { border: none; }
QDockWidget { titlebar-close-icon: url(look:close-$name.svg); }
QDockWidget::title { background: $well; padding: 8px 12px; text-align: left; }
QGroupBox { border: none; border-top: 1px solid $rule; margin-top: 24px; padding-top: 8px; font-weight: 600; }
QGroupBox::title { subcontrol-origin: margin; left: 0; padding: 4px 8px 4px 0; }
QFrame[frameShape="4"] { border: none; max-height: 1px; min-height: 1px; background: $rule; }
QFrame[frameShape="5"] { border: none; max-width: 1px; min-width: 1px; background: $rule; }
QToolBar { background: transparent; border: none; spacing: 4px; }
QToolBar::separator { background: $rule; width: 1px; margin: 6px 8px; }
"""

MENUS: Final = """
QMenuBar { background: $paper; color: $ink; border: none; padding: 0 12px; }
QMenuBar::item { background: transparent; padding: 6px 12px; border-radius: 3px; }
QMenuBar::item:selected, QMenuBar::item:pressed { background: $pressed; }
QMenu { background: $sheet; color: $ink; border: 1px solid $line; padding: 4px; }
QMenu::item { padding: 6px 24px 6px 12px; border-radius: 3px; border: 1px solid transparent; }
QMenu::item:selected { background: $pressed; }
QMenu::item:disabled { color: $ink3; background: transparent; }
QMenu::icon { padding-left: 8px; }
QMenu::separator { height: 1px; background: $rule; margin: 4px 8px; }
QMenu::indicator { width: 16px; height: 16px; margin-left: 8px; }
QMenu::indicator:checked { image: url(look:done-$name.svg); }
QMenu::right-arrow { image: url(look:chevron_right-$name.svg); width: 16px; height: 16px; margin-right: 4px; }
"""

BUTTONS: Final = """
QPushButton { background: $sheet; color: $ink; border: 1px solid $line; border-radius: 3px; padding: 0 15px;
  min-height: ${box_in}px; font-weight: 500; outline: none; }
QPushButton:hover { background: $well; }
QPushButton:pressed, QPushButton:checked { background: $pressed; }
QPushButton:disabled { color: $ink3; border-color: $rule; background: transparent; }
QPushButton:focus { border: 2px solid $ledge; padding: 0 14px; min-height: ${box_in2}px; }
QPushButton:default, QPushButton[verb="primary"] { background: $ink; color: $paper; border-color: $ink;
  font-weight: 600; }
QPushButton:default:hover, QPushButton[verb="primary"]:hover { background: $ink2; border-color: $ink2; }
QPushButton:default:pressed, QPushButton[verb="primary"]:pressed { background: $ink3; border-color: $ink3; }
QPushButton:default:disabled, QPushButton[verb="primary"]:disabled { background: $pressed; color: $ink3;
  border-color: $rule; }
QPushButton:default:focus, QPushButton[verb="primary"]:focus { border: 2px solid $ledge; }
QPushButton[verb="attention"] { border-color: $attention; padding: 0 11px; min-height: 26px; }
QPushButton[verb="note"] { padding: 0 11px; min-height: 26px; }
QPushButton[verb="attention"]:focus, QPushButton[verb="note"]:focus { border: 2px solid $ledge; padding: 0 10px;
  min-height: 24px; }
QPushButton[verb="link"] { background: transparent; border: none; border-bottom: 2px solid transparent;
  border-radius: 0; color: $ledge_text; padding: 0; min-height: 18px; font-weight: 500; text-align: left; }
QPushButton[verb="link"]:hover { text-decoration: underline; }
QPushButton[verb="link"]:focus { border: none; border-bottom: 2px solid $ledge; padding: 0; min-height: 18px; }
QPushButton[verb="link"]:disabled { color: $ink3; }
QPushButton[verb="mark"] { background: transparent; border: none; border-left: 1px solid $rule; border-radius: 0;
  color: $ledge_text; padding: 0 11px; min-height: 0;
  font-weight: 500; font-size: ${label}px; }
QPushButton[verb="mark"]:hover { background: $well; }
QPushButton[verb="mark"]:focus { border: 2px solid $ledge; padding: 0 10px; }
QPushButton[verb="mark"][quiet="true"] { color: $ink2; }
QPushButton[verb="step"] { background: transparent; border: none; border-left: 1px solid $rule; border-radius: 0;
  padding: 0; min-height: 0; }
QPushButton[verb="step"]:hover { background: $well; }
QPushButton[verb="step"]:pressed { background: $pressed; }
QToolButton { background: transparent; color: $ink; border: 1px solid transparent; border-radius: 3px;
  padding: 3px; }
QToolButton:hover { background: $well; }
QToolButton:pressed { background: $pressed; }
QToolButton:checked { background: $pressed; border-color: $line; }
QToolButton:focus { border: 2px solid $ledge; padding: 2px; }
QToolButton:disabled { color: $ink3; }
QToolButton::menu-indicator { image: none; }
"""

BOXES: Final = """
QLineEdit, QSpinBox, QDoubleSpinBox, QComboBox, QKeySequenceEdit > QLineEdit {
  background: $sheet; color: $ink; border: 1px solid $line; border-radius: 3px; padding: 0 9px;
  min-height: ${box_in}px;
  selection-background-color: $ledge; selection-color: $paper; }
QLineEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus, QComboBox:focus {
  border: 2px solid $ledge; padding: 0 8px; min-height: ${box_in2}px; }
QLineEdit:disabled, QSpinBox:disabled, QDoubleSpinBox:disabled, QComboBox:disabled { color: $ink3;
  background: $paper; border-color: $rule; }
QLineEdit:read-only { background: $paper; }
QLineEdit[bare="true"], QLineEdit[bare="true"]:focus, QLineEdit[bare="true"]:disabled {
  background: transparent; border: none; padding: 0; min-height: 0; font-weight: 600; font-size: ${value}px; }
QTextEdit, QPlainTextEdit, QTextBrowser { background: $sheet; color: $ink; border: 1px solid $line;
  border-radius: 3px; padding: 4px;
  selection-background-color: $ledge; selection-color: $paper; }
QTextEdit:focus, QPlainTextEdit:focus { border: 2px solid $ledge; padding: 3px; }
QAbstractSpinBox QLineEdit, QAbstractSpinBox QLineEdit:focus { background: transparent; border: none;
  padding: 0 6px; min-height: 0; }
QSpinBox::up-button, QDoubleSpinBox::up-button { subcontrol-origin: border; subcontrol-position: top right;
  width: 28px; border: none;
  border-left: 1px solid $rule; margin-top: 1px; margin-right: 1px; }
QSpinBox::down-button, QDoubleSpinBox::down-button { subcontrol-origin: border; subcontrol-position: bottom right;
  width: 28px; border: none;
  border-left: 1px solid $rule; margin-bottom: 1px; margin-right: 1px; }
QSpinBox::up-button:hover, QSpinBox::down-button:hover, QDoubleSpinBox::up-button:hover,
  QDoubleSpinBox::down-button:hover { background: $well; }
QSpinBox::up-arrow, QDoubleSpinBox::up-arrow { image: url(look:chevron_up-$name.svg); width: 12px; height: 12px; }
QSpinBox::down-arrow, QDoubleSpinBox::down-arrow { image: url(look:chevron_down-$name.svg); width: 12px;
  height: 12px; }
QSpinBox::up-arrow:off, QDoubleSpinBox::up-arrow:off { image: url(look:chevron_up-$name-off.svg); }
QSpinBox::down-arrow:off, QDoubleSpinBox::down-arrow:off { image: url(look:chevron_down-$name-off.svg); }
QComboBox::drop-down { subcontrol-origin: padding; subcontrol-position: center right; width: 20px; border: none; }
QComboBox::down-arrow { image: url(look:chevron_down-$name.svg); width: 16px; height: 16px; }
QComboBox::down-arrow:disabled { image: url(look:chevron_down-$name-off.svg); }
QComboBox QAbstractItemView { background: $sheet; color: $ink; border: 1px solid $line; padding: 4px; outline: none;
  selection-background-color: $pressed; selection-color: $ink; }
QComboBox QAbstractItemView::item { min-height: 28px; padding: 0 8px; border-radius: 3px; }
QComboBox QAbstractItemView::item:selected { background: $pressed; color: $ink; }
"""

MARKS: Final = """
QCheckBox, QRadioButton { color: $ink; spacing: 8px; padding: 2px 0; outline: none; }
QCheckBox:disabled, QRadioButton:disabled { color: $ink3; }
QCheckBox::indicator, QRadioButton::indicator, QGroupBox::indicator, QAbstractItemView::indicator { width: 16px;
  height: 16px; }
QCheckBox::indicator:unchecked, QGroupBox::indicator:unchecked, QAbstractItemView::indicator:unchecked {
  image: url(look:box-$name.svg); }
QCheckBox::indicator:checked, QGroupBox::indicator:checked, QAbstractItemView::indicator:checked {
  image: url(look:ticked-$name.svg); }
QCheckBox::indicator:indeterminate { image: url(look:partly-$name.svg); }
QCheckBox::indicator:unchecked:focus { image: url(look:box-$name-focus.svg); }
QCheckBox::indicator:checked:focus { image: url(look:ticked-$name-focus.svg); }
QCheckBox::indicator:indeterminate:focus { image: url(look:partly-$name-focus.svg); }
QCheckBox::indicator:unchecked:disabled { image: url(look:box-$name-off.svg); }
QCheckBox::indicator:checked:disabled { image: url(look:ticked-$name-off.svg); }
QRadioButton::indicator:unchecked { image: url(look:ring-$name.svg); }
QRadioButton::indicator:checked { image: url(look:dot-$name.svg); }
QRadioButton::indicator:unchecked:focus { image: url(look:ring-$name-focus.svg); }
QRadioButton::indicator:checked:focus { image: url(look:dot-$name-focus.svg); }
QRadioButton::indicator:unchecked:disabled { image: url(look:ring-$name-off.svg); }
QRadioButton::indicator:checked:disabled { image: url(look:dot-$name-off.svg); }
QProgressBar { background: $sheet; border: 1px solid $line; border-radius: 0; min-height: 6px; max-height: 6px;
  text-align: center; color: transparent; }
QProgressBar::chunk { background: $ink; }
QSlider { min-height: 24px; }
QSlider::groove:horizontal { height: 1px; background: $line; }
QSlider::handle:horizontal { background: $sheet; border: 1px solid $ink; width: 10px; height: 16px;
  margin: -8px 0; border-radius: 2px; }
QSlider::handle:horizontal:focus { border: 2px solid $ledge; }
"""

VIEWS: Final = """
QScrollBar:vertical { background: transparent; border: none; width: 12px; margin: 0; }
QScrollBar:horizontal { background: transparent; border: none; height: 12px; margin: 0; }
QScrollBar::handle { background: $line; border-radius: 3px; margin: 3px; }
QScrollBar::handle:vertical { min-height: 32px; }
QScrollBar::handle:horizontal { min-width: 32px; }
QScrollBar::handle:hover { background: $ink3; }
QScrollBar::handle:pressed { background: $ink2; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; border: none; background: none; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
QAbstractScrollArea::corner { background: transparent; }
QListView, QTreeView, QTableView { background: $sheet; alternate-background-color: $paper; color: $ink;
  border: 1px solid $line; outline: none;
  gridline-color: $rule; selection-background-color: $pressed; selection-color: $ink; }
QListView:focus, QTreeView:focus, QTableView:focus { border: 2px solid $ledge; }
QListView::item, QTreeView::item { padding: 5px 4px; border: none; }
QListView::item:hover, QTreeView::item:hover { background: $well; }
QListView::item:selected, QTreeView::item:selected, QTableView::item:selected { background: $pressed; color: $ink; }
QTreeView::branch { background: transparent; }
QTreeView::branch:has-children:closed { image: url(look:chevron_right-$name.svg); }
QTreeView::branch:has-children:open { image: url(look:chevron_down-$name.svg); }
QHeaderView { background: $well; border: none; }
QHeaderView::section { background: $well; color: $ink2; border: none; border-bottom: 1px solid $line;
  padding: 4px 8px; font-weight: 500; }
QHeaderView::down-arrow { image: url(look:chevron_down-$name.svg); width: 12px; }
QHeaderView::up-arrow { image: url(look:chevron_up-$name.svg); width: 12px; }
QTableCornerButton::section { background: $well; border: none; }
QTabWidget::pane { border: none; border-top: 1px solid $rule; }
QTabBar { background: transparent; }
QTabBar::tab { background: transparent; color: $ink2; border: none; border-bottom: 2px solid transparent;
  padding: 8px 12px; font-weight: 500; }
QTabBar::tab:hover { color: $ink; }
QTabBar::tab:selected { color: $ink; border-bottom: 2px solid $ink; }
QTabBar::tab:focus { border: 2px solid $ledge; padding: 6px 10px; }
QFileDialog QListView#sidebar { background: $well; }
"""


def style_sheet(theme: Theme) -> str:
    """The whole sheet for ``theme`` at the type scale of the moment."""
    box = look.box_height()
    words: dict[str, object] = {**theme.colours(), "name": theme.name, "box_in": box - 2, "box_in2": box - 4}
    words |= {"value": round(Type.VALUE * fonts.scale()), "label": round(Type.LABEL * fonts.scale())}
    return (
        "".join(Template(text).substitute(words) for text in (HABITS, GROUND, MENUS, BUTTONS, BOXES, MARKS, VIEWS))
        + _tables()
    )


def _tables() -> str:
    """Type sizes that the sheet sets, because headers and tooltips do not take the application's font."""
    label = round(Type.LABEL * fonts.scale())
    return (
        f"QHeaderView::section, QToolTip {{ font-size: {label}px; }} QStatusBar {{ min-height: {Space.STATUS - 1}px; }}"
    )
