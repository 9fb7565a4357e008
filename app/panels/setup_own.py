"""What a person adds to the setup of their own: a material, and what their prints have taught."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from app.bench import Bench
from app.look.current import box_height
from app.look.tokens import Space, Type
from app.panels.coupon_dialog import CouponDialog, setup_words
from app.panels.widgets import IconButton, NumberBox, ThemedLabel, VerbButton
from core.design.learned import Learned
from core.design.materials import MATERIALS, Material, material, materials, own_material
from core.design.setup import PrintSetup
from core.errors import SnapcombError
from core.proof.learn import Lesson, alike


class OwnMaterialForm(QWidget):
    """A material of the person's own, with the figures of one that it is like to start from."""

    kept = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(Space.L)
        grid.setVerticalSpacing(Space.S)
        self.name = QLineEdit()
        self.name.setMinimumHeight(box_height())
        self.name.setPlaceholderText(self.tr("As on the spool"))
        self.name.setAccessibleName(self.tr("Name of the material"))
        self.like = QComboBox()
        self.like.setMinimumHeight(box_height())
        self.like.setAccessibleName(self.tr("Like"))
        for m in materials():
            self.like.addItem(m.name, m.name)
        self.like.activated.connect(lambda i: self._start_from(material(self.like.itemData(i))))
        self.boxes = {
            "density": NumberBox(self.tr("Density"), "g/cm³", decimals=2),
            "plane_low": NumberBox(self.tr("Along the layers, at least"), "MPa"),
            "plane_high": NumberBox(self.tr("Along the layers, at most"), "MPa"),
            "across_low": NumberBox(self.tr("Across the layers, at least"), "MPa"),
            "across_high": NumberBox(self.tr("Across the layers, at most"), "MPa"),
        }
        self.cut = QCheckBox(self.tr("Its teeth stretch instead of snapping"))
        self.trouble = ThemedLabel("", "attention_text", Type.LABEL)
        self.trouble.setWordWrap(True)
        self.trouble.hide()
        keep = VerbButton(self.tr("Keep the material"))
        keep.clicked.connect(self.keep)
        cells = [_under(self.tr("Name"), self.name), _under(self.tr("Like"), self.like), *self.boxes.values()]
        for i, cell in enumerate(cells):
            grid.addWidget(cell, i // 3, i % 3, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.cut, 2, 1, 1, 2, Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(self.trouble, 3, 0, 1, 3)
        grid.addWidget(keep, 4, 0)
        for column in range(3):
            grid.setColumnStretch(column, 1)
        self._start_from(MATERIALS[0])

    def _start_from(self, m: Material) -> None:
        figures = (m.density, m.in_plane.low, m.in_plane.high, m.across_layers.low, m.across_layers.high)
        for box, figure in zip(self.boxes.values(), figures, strict=True):
            box.set_value(figure)
        self.cut.setChecked(m.cut)

    def keep(self) -> None:
        """Hand the material over, or say what is wrong with it."""
        density, p_low, p_high, a_low, a_high = (box.value() or 0.0 for box in self.boxes.values())
        try:
            made = own_material(
                self.name.text(), material(self.like.currentData()), density, (p_low, p_high), (a_low, a_high),
                self.cut.isChecked(),
            )  # fmt: skip
        except SnapcombError as problem:
            self.trouble.setText(str(problem))
            self.trouble.show()
            return
        self.trouble.hide()
        self.name.clear()
        self.kept.emit(made)


def _under(caption: str, control: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(Space.XS)
    column.addWidget(ThemedLabel(caption, "ink2", Type.LABEL))
    column.addWidget(control)
    return holder


class TaughtPage(QWidget):
    """What coupons and finished prints have taught about the setup in hand, and where it is entered."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self.bench = bench
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(Space.M)
        self.about = _wrapped("", Type.TEXT)
        column.addWidget(self.about)
        self.facts = _wrapped("")
        column.addWidget(self.facts)
        self.list = QVBoxLayout()
        self.list.setSpacing(Space.XS)
        column.addLayout(self.list)
        enter = VerbButton(self.tr("Make a coupon, or enter what it showed…"))
        enter.clicked.connect(self.ask_coupon)
        line = QHBoxLayout()
        line.addWidget(enter)
        line.addStretch(1)
        column.addLayout(line)
        column.addWidget(
            _wrapped(self.tr("Finished prints teach too: Teeth, How did it print? What was seen in one setup says "
                             "nothing about another nozzle, line, layer, way of walls or material."), role="ink2")
        )  # fmt: skip
        column.addStretch(1)
        self.coupon: CouponDialog | None = None
        self._shown: object = None

    def ask_coupon(self) -> None:
        """The coupon for the setup in hand."""
        self.coupon = CouponDialog(self.bench, self.window())
        self.coupon.show()

    def lessons(self) -> tuple[Lesson, ...]:
        """What was printed, as far as the job or the setup knows."""
        return self.bench.job.lessons if self.bench.job is not None else self.bench.lessons

    def show_setup(self, setup: PrintSetup) -> None:
        """Show what is known in a setup."""
        learned, lessons = self.bench.learned(), self.lessons()
        facts = self._facts(learned)
        self.about.setText(
            self.tr("From {0}, in place of our own figures:").format(learned.source) if facts
            else self.tr("Nothing yet: limits and forces are ours. A coupon replaces them by your printer's own.")
        )  # fmt: skip
        self.facts.setText("\n".join(facts))
        self.facts.setVisible(bool(facts))
        if (lessons, setup) == self._shown:
            return
        self._shown = (lessons, setup)
        while self.list.count():
            item = self.list.takeAt(0)
            if item.widget() is not None:
                item.widget().hide()
                item.widget().deleteLater()
        for lesson in lessons:
            self.list.addWidget(self._line(lesson, setup))

    def _facts(self, learned: Learned) -> list[str]:
        facts = []
        if learned.least_printable is not None:
            facts.append(self.tr("Narrowest width that printed: {0} mm").format(f"{learned.least_printable:.2f}"))
        if learned.clear_bridge is not None:
            facts.append(self.tr("Longest bridge that held: {0} mm").format(f"{learned.clear_bridge:.2f}"))
        if learned.strength is not None:
            low, high = learned.strength.low, learned.strength.high
            facts.append(self.tr("Strength of a neck: {0} to {1} MPa").format(f"{low:.0f}", f"{high:.0f}"))
        if learned.fingers is not None:
            facts.append(self.tr("Your fingers manage what we work out as {0} N").format(f"{learned.fingers:.0f}"))
        return facts

    def _line(self, lesson: Lesson, setup: PrintSetup) -> QWidget:
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        count = self.tr("1 row") if len(lesson.tried) == 1 else self.tr("{0} rows").format(len(lesson.tried))
        words = self.tr("{0}: {1}").format(lesson.source, count)
        if not alike(lesson.setup, setup):
            words += self.tr(", printed in another setup ({0}) and not used here").format(setup_words(lesson.setup))
        row.addWidget(_wrapped(words), 1)
        out = IconButton("remove", self.tr("Forget {0}").format(lesson.source))
        out.clicked.connect(lambda: self.bench.forget(self.tr("Forget {0}").format(lesson.source), lesson))
        row.addWidget(out)
        return holder


def _wrapped(text: str, size: float = Type.LABEL, role: str = "ink") -> ThemedLabel:
    made = ThemedLabel(text, role, size)
    made.setWordWrap(True)
    return made
