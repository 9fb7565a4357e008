"""Line 6: will it print, will it hold, will it snap off."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout

from app.look.tokens import Space
from app.panels.steps.body import Body
from app.panels.widgets import Banner, State

WARNS = ("warn", "stop")


class ProofStep(Body):
    """The findings about the row in hand, or about the last one added, and the forces to snap it off."""

    def build(self) -> None:
        self.hint = self.label(self.tr("Nothing to prove yet: there is no row."))
        self.forces = self.label(role="ink")
        self.list = QVBoxLayout()
        self.list.setSpacing(Space.S)
        self.column.addLayout(self.list)
        self.caution = self.label(
            self.tr("Forces are estimates within a factor of about two. Wear eye protection when you snap teeth off.")
        )

    def refresh(self) -> None:
        proof = self.bench.results.proof
        self.hint.setVisible(proof is None)
        self.forces.setVisible(proof is not None)
        self.caution.setVisible(proof is not None)
        while self.list.count():
            item = self.list.takeAt(0)
            if item.widget() is not None:
                item.widget().deleteLater()
        if proof is None:
            return
        self.forces.setText(proof.summary)
        for finding in proof.findings:
            kind = "attention" if finding.level in WARNS else "note"
            steps = ((finding.code, finding.remedy.text),) if finding.remedy is not None else ()
            banner = Banner(finding.text, steps, kind=kind)
            banner.setToolTip(finding.source)
            banner.chosen.connect(self.bench.remedy)
            self.list.addWidget(banner)

    def figure(self) -> str:
        proof = self.bench.results.proof
        if proof is None:
            return self.tr("working") if self.bench.runner.busy("proof") else ""
        return proof.headline

    def state(self) -> State:
        proof = self.bench.results.proof
        if proof is None:
            return State.TODO
        return State.LOOK if any(f.level in WARNS for f in proof.findings) else State.DONE
