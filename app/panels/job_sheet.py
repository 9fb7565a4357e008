"""The job sheet: seven lines in the order of the work; the line in hand unfolds."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.bench import Bench
from app.look.current import colour, sheet_width
from app.look.fonts import lettering_font
from app.look.tokens import Space, Type
from app.panels.steps.body import Body
from app.panels.steps.hand_over_step import HandOverStep
from app.panels.steps.part_step import PartStep
from app.panels.steps.pose_step import PoseStep
from app.panels.steps.proof_step import ProofStep
from app.panels.steps.span_step import SpanStep
from app.panels.steps.spots_step import SpotsStep
from app.panels.steps.teeth_step import TeethStep
from app.panels.widgets import LinkButton, SheetLine, ThemedLabel

PART, POSE, SPOTS, SPAN, TEETH, PROOF, HAND_OVER = range(1, 8)
#: The sheet's figures follow a pulled handle at this distance, ms.
BEHIND = 80


class _Head(QWidget):
    """The sheet's own title, and whose job it is."""

    def __init__(self) -> None:
        super().__init__()
        self.setFixedHeight(52)
        self.name = ""

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("paper"))
        painter.fillRect(0, self.height() - 1, self.width(), 1, colour("rule"))
        painter.setPen(colour("ink"))
        painter.setFont(lettering_font(Type.VIEW_TITLE))
        field = self.rect().adjusted(Space.XL, 0, -Space.XL, 0)
        painter.drawText(field, Qt.AlignmentFlag.AlignVCenter, self.tr("JOB SHEET"))
        painter.setFont(self.font())
        painter.setPen(colour("ink2"))
        name = painter.fontMetrics().elidedText(self.name, Qt.TextElideMode.ElideMiddle, field.width() - 130)
        painter.drawText(field, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, name)


class JobSheet(QWidget):
    """Shows the bench's job; emits wishes about files, and goes through the bench for everything else."""

    hand_over_asked = Signal(str, str)
    open_asked = Signal()
    setup_asked = Signal()
    trial_asked = Signal()
    outcomes_asked = Signal()

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bench = bench
        self.setFixedWidth(sheet_width())
        self.head = _Head()
        self.bodies: dict[int, Body] = {
            PART: PartStep(bench), POSE: PoseStep(bench), SPOTS: SpotsStep(bench), SPAN: SpanStep(bench),
            TEETH: TeethStep(bench), PROOF: ProofStep(bench), HAND_OVER: HandOverStep(bench),
        }  # fmt: skip
        titles = {
            PART: self.tr("Part"), POSE: self.tr("Print pose"), SPOTS: self.tr("Weak spots"), SPAN: self.tr("Span"),
            TEETH: self.tr("Teeth"), PROOF: self.tr("Proof"), HAND_OVER: self.tr("Hand over"),
        }  # fmt: skip
        self.lines = {number: SheetLine(number, title) for number, title in titles.items()}
        self._lay_out()
        hand_over = self.bodies[HAND_OVER]
        assert isinstance(hand_over, HandOverStep)
        hand_over.asked.connect(self.hand_over_asked)
        proof = self.bodies[PROOF]
        assert isinstance(proof, ProofStep)
        proof.trial_asked.connect(self.trial_asked)
        proof.outcomes_asked.connect(self.outcomes_asked)
        part = self.bodies[PART]
        assert isinstance(part, PartStep)
        part.other.clicked.connect(self.open_asked)
        self._later = QTimer(self, singleShot=True, interval=BEHIND)
        self._later.timeout.connect(self.refresh)
        bench.refreshed.connect(self._refreshed)
        self.unfold(SPOTS)

    def _lay_out(self) -> None:
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for number, line in self.lines.items():
            line.set_body(self.bodies[number])
            line.asked.connect(self._asked)
            column.addWidget(line)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # it follows what has the focus in it
        scroll.setWidget(inner)
        self.limits = ThemedLabel("", "ink2", Type.LABEL)
        self.limits.setWordWrap(True)
        self.setup = LinkButton(self.tr("Setup"))
        self.setup.clicked.connect(self.setup_asked)
        foot = QHBoxLayout()
        foot.setContentsMargins(Space.XL, Space.S, Space.XL, Space.S)
        foot.addWidget(self.limits, 1)
        foot.addWidget(self.setup)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 1, 0)
        outer.setSpacing(0)
        outer.addWidget(self.head)
        outer.addWidget(scroll, 1)
        outer.addLayout(foot)
        self.scroll = scroll

    def _asked(self, number: int) -> None:
        self.unfold(0 if self.lines[number].expanded() else number)

    def unfold(self, number: int) -> None:
        """Unfold one line and fold the others; 0 folds all."""
        for n, line in self.lines.items():
            line.set_expanded(n == number)
        if number:
            self.bodies[number].refresh()

    def asks_for_unit(self) -> bool:
        """Whether the size of the part looks as if its file were in another unit."""
        part = self.bodies[PART]
        assert isinstance(part, PartStep)
        return part.odd_unit() is not None

    def take_chosen_spot(self) -> None:
        """Take the chosen line of the weak spots."""
        spots = self.bodies[SPOTS]
        assert isinstance(spots, SpotsStep)
        spots.take_chosen()

    def unfolded(self) -> int:
        """Number of the line in hand, 0 when all are folded."""
        return next((n for n, line in self.lines.items() if line.expanded()), 0)

    def _refreshed(self) -> None:
        """At once, but a little behind while a handle is pulled: the drawing under the hand comes first."""
        if not self.bench.store.dragging:
            self._later.stop()
            self.refresh()
        elif not self._later.isActive():
            self._later.start()

    def refresh(self) -> None:
        """Show the job as it is now; only the unfolded body works, the folded ones tell their figure."""
        job = self.bench.job
        self.head.name = job.part.name if job else ""
        self.head.update()
        for number, body in self.bodies.items():
            if self.lines[number].expanded() or number == SPOTS:
                body.refresh()
            self.lines[number].set_figure(body.figure())
            self.lines[number].set_state(body.state())
        setup = job.limits if job else self.bench.setup
        self.limits.setText(
            self.tr("Limit {0:g}° from vertical, longest bridge {1}").format(
                setup.overhang, f"{setup.clear_bridge:.2f}"
            )
        )

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        if event.type() == QEvent.Type.StyleChange:  # letters may have grown
            self.setFixedWidth(sheet_width())
        super().changeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour("well"))
        painter.fillRect(self.width() - 1, 0, 1, self.height(), colour("rule"))
