"""What the tests of the proof in the window share: whether it is in, its findings, and a click."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.panels.job_sheet import PROOF
from app.panels.steps.finding_banner import FindingBanner
from app.panels.steps.proof_step import ProofStep
from app.window import Window


def body(window: Window) -> ProofStep:
    step = window.sheet.bodies[PROOF]
    assert isinstance(step, ProofStep)
    return step


def settled(window: Window) -> bool:
    """Whether what is in hand has been proved, and shown."""
    bench, job = window.bench, window.bench.job
    if job is None or bench.runner.busy("proof") or bench._settle.isActive():
        return False
    rows = bench.rows_to_prove(job)
    return bool(rows) and not any(bench._unproved(job, row) for row in rows)


def banner(window: Window, code: str) -> FindingBanner | None:
    return next((f for f in body(window).findings if f.finding.code == code), None)


def click(button: object) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
