"""Line 1: the part, its unit and what was noticed about it."""

from __future__ import annotations

from app.panels.steps.body import Body, show_trouble
from app.panels.steps.wrong_with_it import WrongWithIt
from app.panels.widgets import Choice, LinkButton, Segmented, State
from core.files.read import likely_unit
from core.job.job import read_in
from core.units import UnitName


class PartStep(Body):
    """Unit, size, shells, notes and the words that the designer left in the file."""

    def build(self) -> None:
        self.size = self.label(role="ink")
        self.caption = self.label(self.tr("A number in this file means"))
        self.units = Segmented(
            [Choice("millimeter", self.tr("1 mm")), Choice("inch", self.tr("1 inch")),
             Choice("centimeter", self.tr("1 cm")), Choice("meter", self.tr("1 m"))],
            self.tr("Unit of the file"),
        )  # fmt: skip
        self.units.chosen.connect(self._unit)
        self.row(self.units, stretch=True)
        self.odd = self.banner()
        self.odd.chosen.connect(lambda word: self._unit(word) if word != "keep" else self._keep())
        self.wrong = WrongWithIt(self.bench)
        self.column.addWidget(self.wrong)
        self.notes = self.label()
        self.metadata = self.label()
        self.other = LinkButton(self.tr("Open another file…"))
        self.row(self.other, stretch=True)
        self._kept: object = None

    def _unit(self, name: UnitName) -> None:
        self.bench.change(self.tr("Unit of the file"), lambda job: read_in(job, name))

    def _keep(self) -> None:
        self._kept = self.bench.job.part.source if self.bench.job else None
        self.refresh()

    def odd_unit(self) -> UnitName | None:
        """The unit that the size suggests, unless the file states its own or the person said to keep it."""
        job = self.bench.job
        if job is None or job.part.unit_stated or (self._kept is not None and self._kept == job.part.source):
            return None
        return likely_unit(job.part.mesh) if job.part.unit == "millimeter" else None

    def refresh(self) -> None:
        job = self.bench.job
        if job is None:
            return
        low, high = job.part.mesh.bounds
        self.size.setText(" × ".join(self.mm(float(x), unit=False) for x in high - low) + f" {self._unit_word()}")
        known = job.part.unit in ("millimeter", "inch", "centimeter", "meter")
        self.units.setVisible(known and not job.part.unit_stated)
        self.caption.setText(
            self.tr("The file says that its unit is the {0}.").format(job.part.unit)
            if job.part.unit_stated else self.tr("The file does not say its unit. A number means")
        )  # fmt: skip
        if known:
            self.units.set_current(job.part.unit)
        odd = self.odd_unit()
        show_trouble(
            self.odd,
            self.tr("The size looks as if the file were in another unit.") if odd else "",
            ((odd, self.tr("Read it as {0}").format(odd)), ("keep", self.tr("Keep"))) if odd else (),
        )
        self.wrong.refresh()
        self.notes.setText("\n".join(job.part.notes))
        self.notes.setVisible(bool(job.part.notes))
        self.metadata.setText("\n".join(f"{name}: {value}" for name, value in job.part.metadata))
        self.metadata.setVisible(bool(job.part.metadata))

    def _unit_word(self) -> str:
        return "in" if self.bench.view.unit == "inch" else "mm"

    def figure(self) -> str:
        job = self.bench.job
        if job is None:
            return ""
        topology = job.part.__dict__.get("topology")
        if topology is None:
            return self.tr("reading")
        wrong = len(self.bench.mending.grave)
        if wrong:
            closed = self.tr("1 fault") if wrong == 1 else self.tr("{0} faults").format(wrong)
        else:
            closed = self.tr("closed") if topology.watertight else self.tr("open")
        shells = self.tr("1 shell") if topology.shell_count == 1 else self.tr("{0} shells").format(topology.shell_count)
        return f"{shells}, {closed}"

    def state(self) -> State:
        topology = self.bench.job.part.__dict__.get("topology") if self.bench.job else None
        if topology is None:
            return State.TODO
        wrong = self.odd_unit() or not topology.watertight or self.bench.mending.grave
        return State.LOOK if wrong else State.DONE
