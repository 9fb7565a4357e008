"""Line 6: will it print, will it hold, will it snap off."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.look.tokens import Space, Type
from app.panels.steps.body import Body
from app.panels.steps.finding_banner import FindingBanner
from app.panels.widgets import Banner, LinkButton, State, ThemedLabel, VerbButton
from core.job.job import Row
from core.proof.advice import Advice
from core.proof.findings import Finding, worst_first
from core.proof.prove import Proof
from core.proof.snap import Force

WARNS = ("warn", "stop")


class ProofStep(Body):
    """The findings about the row in hand or, with none in hand, about all rows; the forces; and what would be better.

    ``outcomes_asked`` wishes to note how the printed rows went, ``trial_asked`` to cut a trial piece.
    """

    outcomes_asked = Signal()
    trial_asked = Signal()

    def build(self) -> None:
        self.hint = self.label(self.tr("Nothing to prove yet: there is no row."))
        self.findings: list[FindingBanner] = []
        self.list = QVBoxLayout()
        self.list.setSpacing(Space.S)
        self.column.addLayout(self.list)
        self.better = VerbButton(self.tr("Hold better"))
        self.better.clicked.connect(lambda: self.bench.advise("hold"))
        self.easier = VerbButton(self.tr("Snap easier"))
        self.easier.clicked.connect(lambda: self.bench.advise("snap"))
        self.row(self.better, self.easier)
        self.changed = Banner(kind="note")
        self.changed.hide()
        self.column.addWidget(self.changed)
        self.words = QVBoxLayout()
        self.words.setSpacing(Space.S)
        self.column.addLayout(self.words)
        self.learned = self.label()
        self.caution = self.label(
            self.tr("Forces are estimates within a factor of about two. Wear eye protection when you snap teeth off.")
        )
        self.trial = LinkButton(self.tr("Cut a trial piece…"))
        self.trial.clicked.connect(self.trial_asked)
        self.after = LinkButton(self.tr("How did it print?…"))
        self.after.clicked.connect(self.outcomes_asked)
        self.row(self.trial, self.after, stretch=True)
        self._shown: object = None

    def refresh(self) -> None:
        job, proved = self.bench.job, self.bench.proved()
        there = bool(proved)
        in_hand = job is not None and job.draft is not None
        self.hint.setVisible(not there)
        self.hint.setText(self._hint())
        for widget in (self.caution, self.trial):
            widget.setVisible(there)
        for widget in (self.better, self.easier):
            widget.setVisible(there and in_hand)
        self.after.setVisible(job is not None and bool(job.rows))
        self._show_advice(self.bench.results.advice)
        self._show_learned(there)
        shown = tuple((row.number, proof) for row, proof in proved)
        if shown != self._shown:
            self._shown = shown
            self._fill(proved)

    def _hint(self) -> str:
        job = self.bench.job
        if job is None or not job.all_rows:
            return self.tr("Nothing to prove yet: there is no row.")
        if self.bench.runner.busy("proof") or self.bench.runner.busy("span"):
            return self.tr("Working it out…")
        return self.tr("The row cannot be worked out, so there is nothing to prove.")

    def _fill(self, proved: list[tuple[Row, Proof]]) -> None:
        for column in (self.list, self.words):
            while column.count():
                item = column.takeAt(0)
                if item.widget() is not None:
                    item.widget().hide()  # it may be the one whose button was just pressed
                    item.widget().deleteLater()
        self.findings = []
        several = len(proved) > 1
        owner = {id(f): row for row, proof in proved for f in proof.findings}
        for finding in worst_first(f for _, proof in proved for f in proof.findings):
            self._add(finding, owner[id(finding)], several=several)
        for row, proof in proved:
            if several:
                self._say(self.tr("Row {0}").format(row.number), Type.SEMIBOLD)
            for sentence in proof.sentences:
                self._say(sentence)
        self._put_in_order()

    def _put_in_order(self) -> None:
        """Tab comes to the findings where they stand, before what is below them."""
        before: QWidget = self.hint
        for one in (w for banner in self.findings for w in (banner, *banner.buttons.values())):
            QWidget.setTabOrder(before, one)
            before = one

    def _add(self, finding: Finding, row: Row, *, several: bool) -> None:
        banner = FindingBanner(finding, self.tr("Row {0}").format(row.number) if several else "")
        banner.looked.connect(lambda: self.bench.show_place(finding.place))
        banner.cured.connect(lambda: self.bench.remedy(finding.code, row.number))
        self.findings.append(banner)
        self.list.addWidget(banner)

    def _say(self, words: str, weight: int = Type.REGULAR) -> None:
        made = ThemedLabel(words, "ink", Type.LABEL, weight)
        made.setWordWrap(True)
        self.words.addWidget(made)

    def _show_advice(self, advice: Advice | None) -> None:
        if advice is None:
            self.changed.hide()
            return
        before, after = advice.before.sideways, advice.after.sideways
        lines = [*advice.changes]
        if before != after:
            force = self.tr("Rocking the row off: {0}, now {1}.")
            lines.append(force.format(_newtons(before), _newtons(after)))
        self.changed.show_message("\n".join(lines), kind="note", title=self.tr("What changed"))
        self.changed.show()

    def _show_learned(self, there: bool) -> None:
        learned = self.bench.learned()
        taught = [
            words
            for words, known in (
                (self.tr("least width"), learned.least_printable), (self.tr("longest bridge"), learned.clear_bridge),
                (self.tr("strength"), learned.strength), (self.tr("what fingers can do"), learned.fingers),
            )
            if known is not None
        ]  # fmt: skip
        self.learned.setText(self.tr("From {0}: {1}.").format(learned.source, ", ".join(taught)))
        self.learned.setVisible(there and bool(taught))

    def figure(self) -> str:
        proved = self.bench.proved()
        if not proved:
            return self.tr("working") if self.bench.runner.busy("proof") else ""
        if len(proved) == 1:
            return proved[0][1].headline
        count = sum(f.level in WARNS for _, proof in proved for f in proof.findings)
        if not count:
            return self.tr("all hold, snap off")
        return self.tr("1 warning") if count == 1 else self.tr("{0} warnings").format(count)

    def state(self) -> State:
        proved = self.bench.proved()
        if not proved:
            return State.TODO
        return State.LOOK if any(f.level in WARNS for _, p in proved for f in p.findings) else State.DONE


def _newtons(force: Force) -> str:
    return f"{force.low:.0f} to {force.high:.0f} N"
