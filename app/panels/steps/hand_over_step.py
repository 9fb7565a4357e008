"""Line 7: the rows that were added, how they are joined to the part, and the file."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QCoreApplication, Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.language import said
from app.look.tokens import Space, Type
from app.panels.steps.body import Body
from app.panels.widgets import Choice, IconButton, LinkButton, Segmented, State, ThemedLabel, VerbButton
from core.design.post import Post
from core.errors import SnapcombError
from core.job.job import Row, take_in_hand, take_out


class HandOverStep(Body):
    """Bond, place and format; hand over; what to mind when printing."""

    asked = Signal(str, str)

    def build(self) -> None:
        self.hint = self.label(self.tr("No row has been added yet."))
        self.rows = QVBoxLayout()
        self.rows.setSpacing(Space.XS)
        self.column.addLayout(self.rows)
        self.label(self.tr("Bond"))
        self.bond = Segmented(
            [Choice("shells", self.tr("Lapped shells")), Choice("skin", self.tr("One skin"))], self.tr("Bond")
        )
        self.bond.chosen.connect(
            lambda key: self.bench.change(
                self.tr("Bond"), lambda job: job if job.bond == key else replace(job, bond=key)
            )
        )
        self.row(self.bond, stretch=True)
        self.bond_words = self.label()
        self.label(self.tr("Place"))
        self.place = Segmented(
            [Choice("file", self.tr("As filed")), Choice("bed", self.tr("On the bed"))], self.tr("Place of the part")
        )
        self.place.set_current("file")
        self.place.chosen.connect(self.place.set_current)
        self.row(self.place, stretch=True)
        self.repaired = self.label(
            self.tr(
                "The mesh was repaired, so the part will be written as a whole, as STL or 3MF: what else the file holds"
                " is left out. Take the repairs back to have teeth added to the original and nothing else changed."
            ), "attention_text",
        )  # fmt: skip
        self.button = VerbButton(self.tr("Hand over…"), primary=True)
        self.button.clicked.connect(lambda: self.asked.emit("part", self.place.current()))
        self.teeth_only = VerbButton(self.tr("Teeth only…"))
        self.teeth_only.clicked.connect(lambda: self.asked.emit("teeth", self.place.current()))
        self.row(self.button, self.teeth_only)
        self.open = self.label(role="attention_text")
        self.done = self.label(role="ink")
        self.list = LinkButton(self.tr("What to mind when printing it"))
        self.list.clicked.connect(self._unfold)
        self.row(self.list, stretch=True)
        self.minding = self.label(minding())
        self.minding.hide()

    def _unfold(self) -> None:
        self.minding.setVisible(self.minding.isHidden())

    def refresh(self) -> None:
        job = self.bench.job
        if job is None:
            return
        self.hint.setVisible(not job.adds and job.draft is None)
        while self.rows.count():
            item = self.rows.takeAt(0)
            if item.widget() is not None:
                item.widget().deleteLater()
        for row in job.rows:
            self.rows.addWidget(self._line(row))
        for pick, post in self.bench.posts():
            self.rows.addWidget(self._post_line(pick.number, post))
        self.bond.set_current(job.bond)
        self.bond_words.setText(
            self.tr("Teeth stay shells of their own that overlap the part. Every original facet stays as it was.")
            if job.bond == "shells" else
            self.tr("Part and teeth become one closed surface. The facets that they touch are cut anew.")
        )  # fmt: skip
        ready = job.adds or self.bench.draft_design() is not None
        self.button.setEnabled(ready)
        self.teeth_only.setEnabled(ready)
        self.repaired.setVisible(bool(job.part.repairs))
        self._show_open()
        handed = self.bench.results.handed
        self.done.setVisible(handed is not None)
        if handed is not None:
            kept = self.tr("every original record kept") if handed.lossless else self.tr("read back and compared")
            words = self.tr("Written: {0}\n{1} facets, {2}").format(handed.path, handed.triangles, kept)
            self.done.setText("\n".join((words, *map(said, handed.notes))))

    def _show_open(self) -> None:
        """What the proof warns of and hand over goes on in spite of."""
        left = self.bench.open_findings()
        lines = [self.tr("Row {0}: {1}").format(row.number, finding.heading) for row, finding in left]
        self.open.setText("\n".join((self.tr("Left open by the proof:"), *dict.fromkeys(lines))))
        self.open.setVisible(bool(lines))

    def _line(self, row: Row) -> QWidget:
        line = QWidget()
        box = QHBoxLayout(line)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(Space.XS)
        design = self.bench.row_design(row)
        if design is None:
            words = self.tr("Row {0}, measuring").format(row.number)
        elif isinstance(design, SnapcombError):
            words = self.tr("Row {0}: {1}").format(row.number, design)
        elif design.wall is not None:
            words = self.tr("Row {0}: a wall with {1} teeth, {2} long").format(
                row.number, design.plan.teeth, self.mm(design.span.length)
            )
        else:
            words = self.tr("Row {0}: {1} teeth, {2} long").format(
                row.number, design.plan.teeth, self.mm(design.span.length)
            )
        name = ThemedLabel(words, "attention_text" if isinstance(design, SnapcombError) else "ink", Type.TEXT)
        name.setWordWrap(True)
        box.addWidget(name, 1)
        change = IconButton("row", self.tr("Change row {0}").format(row.number))
        change.clicked.connect(lambda: self._take_in_hand(row.number))
        out = IconButton("remove", self.tr("Take row {0} out").format(row.number))
        out.clicked.connect(
            lambda: self.bench.change(
                self.tr("Take row {0} out").format(row.number), lambda job: take_out(job, row.number)
            )
        )
        box.addWidget(change)
        box.addWidget(out)
        return line

    def _post_line(self, number: int, post: Post | SnapcombError) -> QWidget:
        line = QWidget()
        box = QHBoxLayout(line)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(Space.XS)
        bad = isinstance(post, SnapcombError)
        words = self.tr("Post {0}: {1}").format(number, post) if bad else self.tr("Post {0}, {1} high").format(
            number, self.mm(post.height))  # fmt: skip
        name = ThemedLabel(words, "attention_text" if bad else "ink", Type.TEXT)
        name.setWordWrap(True)
        box.addWidget(name, 1)
        out = IconButton("remove", self.tr("Take post {0} out").format(number))
        out.clicked.connect(lambda: self.bench.take_out_post(number))
        box.addWidget(out)
        return line

    def _take_in_hand(self, number: int) -> None:
        self.bench.change(self.tr("Change row {0}").format(number), lambda job: take_in_hand(job, number))

    def figure(self) -> str:
        job = self.bench.job
        if job is None:
            return ""
        handed = self.bench.results.handed
        if handed is not None:
            return handed.path.name
        return self.tr("writing") if self.bench.runner.busy("write") else ""

    def state(self) -> State:
        return State.DONE if self.bench.results.handed is not None else State.TODO


def minding() -> str:
    """The hand-over list: what keeps the proof true on the printer."""

    def tr(text: str) -> str:
        return QCoreApplication.translate("HandOverStep", text)

    return "\n".join((
        "• " + tr("Print it in the pose shown here; do not turn it and do not split it into bodies."),
        "• " + tr("Keep automatic supports away from the treated edges."),
        "• " + tr("Let the program that makes the layers print thin features, or widen the tips as advised."),
        "• " + tr("Overlapping shells must be read as united; if yours cuts the teeth loose, hand over one skin."),
        "• " + tr("Look at the layers of the tips before you print."),
        "• " + tr("No brim between fin and part."),
        "• " + tr("Wear eye protection when you snap the teeth off: small pieces fly. Let the part cool first."),
    ))  # fmt: skip
