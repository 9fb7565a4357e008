"""Files in and out: opening, putting away, handing over, pictures."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QGuiApplication, QImage
from PySide6.QtWidgets import QFileDialog, QMessageBox

from app import settings
from app.housekeeping import Housekeeping
from app.look.dialogs import file_dialog
from app.panels.job_sheet import HAND_OVER, PART, SPOTS
from app.panels.start_page import RecentEntry, SampleEntry
from app.window.telling import WindowTelling
from core.files.formats import added_suffixes
from core.job.hand_over import HandedOver, suggested_path
from samples import SAMPLES

MESHES = "*.stl *.3mf *.obj *.ply"
JOBS = "*.snapcomb *.json"


def meshes() -> str:
    """The endings that a file dialog looks for, those of other packages last."""
    return " ".join((MESHES, *(f"*{suffix}" for suffix in added_suffixes())))


class WindowFiles(WindowTelling):
    """Opens, writes, and asks before anything is lost."""

    keep: Housekeeping

    def _fill_start(self) -> None:
        self.start.set_samples([SampleEntry(s.name, s.title, s.line) for s in SAMPLES])
        recent = [Path(p) for p in self.remembered.recent]
        self.start.set_recent([RecentEntry(p) for p in recent if p.exists()])
        self.keep.draw_start_page()

    def open(self, path: Path) -> None:
        """Open a mesh, after asking about work that is not handed over yet."""
        if self.may_leave():
            self.banner.hide()
            self.bench.open(Path(path))

    def ask_open(self) -> None:
        """The file dialog."""
        dialog = file_dialog(
            self, self.tr("Open a mesh"), self.remembered.folder, self.tr("Meshes ({0})").format(f"{meshes()} {JOBS}")
        )
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        if dialog.exec() and dialog.selectedFiles():
            self.open(Path(dialog.selectedFiles()[0]))

    def put_away(self) -> None:
        """Back to the start page."""
        if self.may_leave():
            self.bench.close()
            self._fill_start()

    def may_leave(self) -> bool:
        """Ask about work that would be lost. True when it may go on."""
        if not self.store.unsaved:
            return True
        box = QMessageBox(self)
        box.setWindowTitle(self.tr("Snapcomb"))
        box.setText(self.tr("The work on {0} has not been handed over.").format(self.bench.job.part.name))
        box.setInformativeText(self.tr("It would be lost."))
        save = box.addButton(self.tr("Hand over…"), QMessageBox.ButtonRole.AcceptRole)
        discard = box.addButton(self.tr("Discard"), QMessageBox.ButtonRole.DestructiveRole)
        cancel = box.addButton(self.tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(save)
        box.setEscapeButton(cancel)
        box.exec()
        if box.clickedButton() is save:
            self.ask_hand_over("part", "file")
            return False
        return box.clickedButton() is discard

    def _shown(self) -> None:
        job = self.bench.job
        if job is not None and job.part.source is not None:
            settings.remember_file(self.remembered, job.part.source.path)
        self.pages.setCurrentIndex(1)
        self.scene.show_part()
        self.sheet.unfold(PART if self.sheet.asks_for_unit() else SPOTS)
        self.view.setFocus()

    def quick_hand_over(self) -> None:
        """Write beside the original under a new name, asking nothing unless that name is taken."""
        job = self.bench.job
        if job is None:
            return
        self.bench.hand_over(_free_name(suggested_path(job)))

    def ask_hand_over(self, what: str, frame: str) -> None:
        """Ask for the name and format of the file."""
        job = self.bench.job
        if job is None:
            return
        dialog = file_dialog(self, self.tr("Hand over"), str(suggested_path(job).parent), ";;".join(
            (self.tr("STL (*.stl)"), self.tr("3MF (*.3mf)"), self.tr("As the original (*.{0})").format(
                job.part.source.format if job.part.source else "stl"))))  # fmt: skip
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("stl")
        dialog.setLabelText(QFileDialog.DialogLabel.Accept, self.tr("Hand over"))
        name = suggested_path(job)
        dialog.selectFile(name.name if what == "part" else f"{name.stem}_only{name.suffix}")
        if dialog.exec() and dialog.selectedFiles():
            self.bench.hand_over(Path(dialog.selectedFiles()[0]), frame, what, True)

    def _written(self, done: HandedOver) -> None:
        settings.save(self.remembered)
        self.sheet.unfold(HAND_OVER)
        self._show_hint(self.tr("Written: {0}").format(done.path.name))

    def copy_picture(self) -> None:
        """The view to the clipboard."""
        QGuiApplication.clipboard().setImage(self.view.screenshot())

    def ask_picture(self) -> None:
        """The view to a file."""
        dialog = file_dialog(self, self.tr("Save a picture"), self.remembered.folder, self.tr("Pictures (*.png)"))
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("png")
        if dialog.exec() and dialog.selectedFiles():
            image: QImage = self.view.screenshot()
            if not image.save(dialog.selectedFiles()[0]):
                self.say("attention", self.tr("The picture could not be written there. Choose another folder."), ())


def _free_name(path: Path) -> Path:
    """The path, or the first numbered one that is not taken."""
    number, fresh = 2, path
    while fresh.exists():
        fresh = path.with_stem(f"{path.stem}_{number}")
        number += 1
    return fresh
