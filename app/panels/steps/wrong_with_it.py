"""What is wrong with the mesh, below the part's line: there only when something is, each with its repair."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.bench import Bench
from app.bench.mending import HARMLESS
from app.look.tokens import Space
from app.panels.widgets import Banner
from core.geometry.defects import Defect, Fix

LOOK, MEND, BACK = "look", "mend", "back"


def _tr(text: str) -> str:
    return QCoreApplication.translate("WrongWithIt", text)


def verb(fix: Fix) -> str:
    """What the button of a repair says; it names the undo step, too."""
    return {
        "turn": _tr("Turn them round"),
        "double": _tr("Keep one of each"),
        "sliver": _tr("Take them out"),
        "join": _tr("Join the edges"),
        "unite": _tr("Unite the shells"),
    }[fix]


def meaning(fix: Fix) -> str:
    """What a defect does to the print."""
    return {
        "turn": _tr("Layers may come out hollow there. The weak spots are found as if they were right."),
        "double": _tr("Layers may come out hollow there."),
        "sliver": _tr("It harms nothing. Teeth never need this."),
        "join": _tr("Layers may stay open there. What is joined moves by less than that."),
        "unite": _tr("Needed only where your program for layers cuts shells apart. Teeth never need this."),
    }[fix]


class WrongWithIt(QWidget):
    """One banner a defect, and one about the repairs that were done."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.bench = bench
        self.banners: dict[str, Banner] = {}
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(Space.S)
        self._shown: object = None
        bench.mending.changed.connect(self.refresh)

    def refresh(self) -> None:
        """Show what is wrong now; nothing is built anew while that is the same."""
        mending, job = self.bench.mending, self.bench.job
        repaired = job is not None and bool(job.part.repairs)
        now = (mending.defects, mending.chosen, repaired, self.bench.runner.busy("mend"))
        if now == self._shown:
            return
        self._shown = now
        while self._column.count():
            item = self._column.takeAt(0)
            item.widget().hide()
            item.widget().deleteLater()
        self.banners = {}
        for defect in mending.defects or ():
            self._add(defect.fix, self._banner(defect))
        if repaired:
            self._add(BACK, self._about_repairs())
        self.setVisible(bool(self.banners))

    def _add(self, name: str, banner: Banner) -> None:
        self.banners[name] = banner
        self._column.addWidget(banner)

    def _banner(self, defect: Defect) -> Banner:
        mending = self.bench.mending
        look = _tr("Mark it no more") if mending.chosen is defect else _tr("Show where")
        kind = "note" if defect.fix in HARMLESS else "attention"
        banner = Banner(
            meaning(defect.fix), ((MEND, verb(defect.fix)), (LOOK, look)), self, kind=kind, title=defect.text
        )
        banner.buttons[MEND].setEnabled(not self.bench.runner.busy("mend"))
        banner.chosen.connect(
            lambda word: mending.mend(verb(defect.fix), defect) if word == MEND else mending.look(defect)
        )
        return banner

    def _about_repairs(self) -> Banner:
        text = _tr("The repaired part will be written as a whole, and not as the original with teeth added to it.")
        banner = Banner(
            text, ((BACK, _tr("Take the repairs back")),), self, kind="note", title=_tr("The mesh was repaired.")
        )
        banner.chosen.connect(lambda _: self.bench.mending.take_back(_tr("Take the repairs back")))
        return banner
