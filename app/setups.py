"""Print setups that are kept by name, own materials, and what was printed in each: the person's own shelf.

They lie in the settings as plain data, one entry each, so that an entry which makes no sense costs only itself.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import msgspec

from app.settings import Settings
from core.design.materials import Material
from core.design.setup import FIGURES, PrintSetup
from core.errors import BadValue, SnapcombError
from core.job.setup_record import (
    LessonRecord,
    MaterialRecord,
    SetupRecord,
    lesson_of,
    lesson_record,
    material_of,
    material_record,
    setup_of,
    setup_record,
)
from core.proof.learn import Lesson

log = logging.getLogger(__name__)
T = TypeVar("T")


@dataclass(frozen=True)
class Kept:
    """A setup under its name ("" for the one without), with the prints that taught about it."""

    name: str
    setup: PrintSetup
    lessons: tuple[Lesson, ...] = ()


class _Entry(msgspec.Struct):
    name: str
    setup: SetupRecord
    lessons: list[LessonRecord] = []


class Shelf:
    """Setups and materials in the settings. Nothing is written to the disk here."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings

    def kept(self) -> tuple[Kept, ...]:
        """The setups with a name, in the order in which they were kept."""
        return tuple(_sound(self.settings.setups, _kept_of))

    def current(self) -> Kept:
        """The setup that a new job begins with: the one in use last, or the usual one."""
        name = self.settings.setup_name
        named = next((k for k in self.kept() if k.name == name), None) if name else None
        setup = self._figures()
        return Kept(named.name, setup, named.lessons) if named else Kept("", setup, self._lessons())

    def use(self, kept: Kept) -> None:
        """Begin new jobs with this one, and remember what taught about it."""
        self.settings.setup_name = kept.name
        self.settings.setup = {
            f.name: getattr(kept.setup, f.name) for f in FIGURES if getattr(kept.setup, f.name) != f.default
        }
        if kept.setup.own is not None:
            self.keep_material(kept.setup.own)
        named = next((k for k in self.kept() if k.name == kept.name), None) if kept.name else None
        if named is not None:
            self.keep(replace(named, lessons=kept.lessons))
        else:
            self.settings.lessons = [_plain(lesson_record(lesson)) for lesson in kept.lessons]

    def keep(self, kept: Kept) -> None:
        """Keep a setup under its name, in place of one that has the name already. Raises BadValue without a name."""
        name = " ".join(kept.name.split())
        if not name:
            raise BadValue("The setup has no name.", "Type one, such as that of the printer.")
        entry = _plain(_Entry(name, setup_record(kept.setup), [lesson_record(lesson) for lesson in kept.lessons]))
        self.settings.setups = _put(self.settings.setups, name, entry)

    def drop(self, name: str) -> None:
        """Take a setup off the shelf; what is in use stays as it is, without a name."""
        if self.settings.setup_name == name:
            lessons = self.current().lessons
            self.settings.setup_name = ""
            self.settings.lessons = [_plain(lesson_record(lesson)) for lesson in lessons]
        self.settings.setups = [e for e in self.settings.setups if e.get("name") != name]

    def materials(self) -> tuple[Material, ...]:
        """The person's own materials."""
        return tuple(_sound(self.settings.materials, lambda e: material_of(msgspec.convert(e, MaterialRecord))))

    def keep_material(self, material: Material) -> None:
        """Keep a material, in place of one of the same name."""
        self.settings.materials = _put(self.settings.materials, material.name, _plain(material_record(material)))

    def drop_material(self, name: str) -> None:
        """Take a material off the shelf. Setups that use it keep it."""
        self.settings.materials = [e for e in self.settings.materials if e.get("name") != name]

    def _figures(self) -> PrintSetup:
        own = next((m for m in self.materials() if m.name == self.settings.setup.get("material")), None)
        try:
            return PrintSetup(**self.settings.setup, own=own)  # type: ignore[arg-type]
        except (SnapcombError, TypeError) as problem:
            log.warning("The kept setup makes no sense and is left out: %s", problem)
            return PrintSetup()

    def _lessons(self) -> tuple[Lesson, ...]:
        return tuple(_sound(self.settings.lessons, lambda e: lesson_of(msgspec.convert(e, LessonRecord))))


def _kept_of(entry: dict[str, Any]) -> Kept:
    record = msgspec.convert(entry, _Entry)
    return Kept(record.name, setup_of(record.setup), tuple(lesson_of(lesson) for lesson in record.lessons))


def _sound(entries: list[dict[str, Any]], make: Callable[[dict[str, Any]], T]) -> list[T]:
    """What can be made of the entries; the others are told in the log and left alone."""
    out = []
    for entry in entries:
        try:
            out.append(make(entry))
        except (SnapcombError, msgspec.ValidationError, TypeError) as problem:
            log.warning("An entry of the kept setups makes no sense and is left out: %s", problem)
    return out


def _put(entries: list[dict[str, Any]], name: str, entry: dict[str, Any]) -> list[dict[str, Any]]:
    """The entries with this one in the place of its namesake, or at the end."""
    names = [e.get("name") for e in entries]
    if name not in names:
        return [*entries, entry]
    return [entry if n == name else e for n, e in zip(names, entries, strict=True)]


def _plain(record: msgspec.Struct) -> dict[str, Any]:
    out: dict[str, Any] = msgspec.to_builtins(record)
    return out
