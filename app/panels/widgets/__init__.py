"""Our own controls. None of them holds a truth: they show what they are given and emit what the person wishes."""

from app.panels.widgets.banner import Banner
from app.panels.widgets.buttons import IconButton, LinkButton, Stepper, VerbButton
from app.panels.widgets.finder import Finder
from app.panels.widgets.info_bubble import InfoBubble, bubble_picture
from app.panels.widgets.length_box import CountBox, LengthBox, NumberBox
from app.panels.widgets.painted import ThemedLabel
from app.panels.widgets.segmented import Choice, Segmented
from app.panels.widgets.sheet_line import SheetLine
from app.panels.widgets.side_by_side import SideBySide
from app.panels.widgets.state_mark import State, StateMark

__all__ = [
    "Banner",
    "Choice",
    "CountBox",
    "Finder",
    "IconButton",
    "InfoBubble",
    "LengthBox",
    "LinkButton",
    "NumberBox",
    "Segmented",
    "SheetLine",
    "SideBySide",
    "State",
    "StateMark",
    "Stepper",
    "ThemedLabel",
    "VerbButton",
    "bubble_picture",
]
