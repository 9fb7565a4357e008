"""Line 2: the print pose, which decides what sags, and the working axes, which are only for looking."""

from __future__ import annotations

from app.panels.steps.body import Body
from app.panels.widgets import LinkButton, State, VerbButton
from core.geometry.pose import as_filed


class PoseStep(Body):
    """As filed, seat, turn over, turn; and the working axes below."""

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
        self.label(self.tr("Working axes square the part up to look at it. They change nothing about the print."))
        self.axes = VerbButton(self.tr("Line up a face or edge"))
        self.axes.clicked.connect(lambda: self.bench.set_mode("axes"))
        self.drop = LinkButton(self.tr("Drop working axes"))
        self.drop.clicked.connect(self.bench.drop_axes)
        self.row(self.axes, self.drop, stretch=True)

    def refresh(self) -> None:
        job = self.bench.job
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
