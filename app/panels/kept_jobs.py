"""What earlier runs left behind, each with its picture and time, to be taken back or let go one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.look.tokens import Space
from app.panels.widgets.banner import Banner


@dataclass(frozen=True)
class KeptJob:
    """Work that an earlier run left behind: what is in it, and when it was kept. ``key`` names it."""

    key: str
    file_name: str
    about: str = ""
    when: str = ""
    picture: QPixmap | None = None


class KeptJobs(QWidget):
    """Emits the key of the job that is taken back, or let go."""

    taken = Signal(str)
    left = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.banners: dict[str, Banner] = {}
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(Space.S)

    def show_jobs(self, jobs: Sequence[KeptJob]) -> None:
        """Offer these, newest first; without any, nothing is shown."""
        for banner in self.banners.values():
            self._column.removeWidget(banner)
            banner.hide()
            banner.deleteLater()
        self.banners = {job.key: self._banner(job) for job in jobs}
        self.setVisible(bool(jobs))

    def _banner(self, job: KeptJob) -> Banner:
        steps = [("take", self.tr("Take it back")), ("leave", self.tr("Let it go"))]
        title = self.tr("A job on {0} was kept.").format(job.file_name)
        about = self.tr("{0} Last change {1}.").format(job.about, job.when).strip() if job.when else job.about
        banner = Banner(about, steps, self, kind="note", title=title, wide=True)
        banner.set_picture(job.picture)
        for word, button in banner.buttons.items():
            verb = self.tr("Take the job on {0} back") if word == "take" else self.tr("Let the job on {0} go")
            button.setAccessibleName(verb.format(job.file_name))
        banner.chosen.connect(lambda word: (self.taken if word == "take" else self.left).emit(job.key))
        self._column.addWidget(banner)
        return banner
