"""Line 2: the print pose, which decides what sags, and the working axes, which are only for looking."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.look.tokens import Space, Type
from app.panels.steps.body import Body
from app.panels.widgets import LinkButton, State, ThemedLabel, VerbButton
from core.diagnose.resting import Resting
from core.geometry.pose import as_filed
from core.job.job import Job


class PoseStep(Body):
    """As filed, seat, turn over, turn; and the working axes below."""

    _offered: object = None

    def build(self) -> None:
        self.label(self.tr("The pose in which the part will print decides what sags."))
        self.filed = VerbButton(self.tr("As filed"))
        self.filed.clicked.connect(self.bench.pose_as_filed)
        self.seat = VerbButton(self.tr("Seat on a face"))
        self.seat.clicked.connect(lambda: self.bench.set_mode("seat"))
        self.row(self.filed, self.seat)
        self.over = VerbButton(self.tr("Turn over"))
        self.over.clicked.connect(self.bench.turn_over)
        self.quarter = VerbButton(self.tr("Turn a quarter"))
        self.quarter.clicked.connect(lambda: self.bench.turn(90))
        self.row(self.over, self.quarter)
        self.look = LinkButton(self.tr("Which way up hangs least?"))
        self.look.clicked.connect(self._ask)
        self.row(self.look, stretch=True)
        self.poses = QVBoxLayout()
        self.poses.setSpacing(Space.XS)
        self.column.addLayout(self.poses)
        self.label(self.tr("Working axes square the part up to look at it. They change nothing about the print."))
        self.axes = VerbButton(self.tr("Line up a face or edge"))
        self.axes.clicked.connect(lambda: self.bench.set_mode("axes"))
        self.drop = LinkButton(self.tr("Drop working axes"))
        self.drop.clicked.connect(self.bench.drop_axes)
        self.row(self.axes, self.drop, stretch=True)

    def _ask(self) -> None:
        job = self.bench.job
        if job is not None:
            self.bench.runner.post("rest", "rest", job, then=lambda found: self._show(job, found))

    def _show(self, job: Job, found: tuple[Resting, ...]) -> None:
        """Offer the poses found, each with its figures."""
        if self.bench.job is None or self.bench.job.part is not job.part:
            return
        self._clear()
        for resting in found:
            name = self.tr("As filed") if resting.filed else self.tr("Stand it here")
            button = VerbButton(name)
            button.setToolTip(self.tr("Falls when leaned by {0:.0f}°").format(resting.tip_deg))
            label = self.tr("Stand it another way")
            button.clicked.connect(lambda _=False, to=resting.pose, name=label: self.bench.repose(name, to))
            words = self.tr("{0:.0f} mm² would sag, {1:.0f} mm² are steeper than {2:g}°; falls at {3:.0f}°").format(
                resting.sag_area, resting.overhang_area, job.setup.overhang, resting.tip_deg
            )
            line = QWidget()
            row = QHBoxLayout(line)
            row.setContentsMargins(0, 0, 0, 0)
            row.addWidget(button)
            text = ThemedLabel(words, "ink2", Type.LABEL)
            text.setWordWrap(True)
            row.addWidget(text, 1)
            self.poses.addWidget(line)
        self._offered = job.part

    def _clear(self) -> None:
        while self.poses.count():
            item = self.poses.takeAt(0)
            if item.widget() is not None:
                item.widget().deleteLater()

    def refresh(self) -> None:
        job = self.bench.job
        if job is None or job.part is not self._offered:
            self._clear()
        self.drop.setVisible(job is not None and job.working is not None)
        self.filed.setEnabled(job is not None and job.pose != as_filed(job.part.mesh))

    def figure(self) -> str:
        job = self.bench.job
        if job is None:
            return ""
        pose = self.tr("as filed") if job.pose == as_filed(job.part.mesh) else self.tr("turned")
        return pose if job.working is None else self.tr("{0}, working axes").format(pose)

    def state(self) -> State:
        return State.DONE if self.bench.job else State.TODO
