"""A begun run of the small kitchen, and a pencil to note what happens to it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

from production.domain.plan import Plan, PlannedRun, make_plan
from production.domain.records.course import Running, course_of
from production.domain.records.course_content import Course, Noted, State
from production.domain.sheets import BatchSheet, batch_sheets
from tests.builders import a_week

RUN = "R05"  # poultry with a second draw and a reduction; an onion, a bay leaf, two order lines


@cache
def the_plan() -> Plan:
    """The small kitchen's week."""
    return make_plan(week=a_week())


@cache
def sheet_of(code: str = RUN) -> BatchSheet:
    """The batch sheet of a run."""
    return next(sheet for sheet in batch_sheets(the_plan()) if sheet.run == code)


def run_of(code: str = RUN) -> PlannedRun:
    """A run of the plan."""
    return next(run for run in the_plan().runs if run.code == code)


@dataclass
class Pencil:
    """Notes what is recorded to a run; minutes count from its planned start."""

    code: str = RUN
    notes: list[Noted] = field(default_factory=list)

    def at(self, minute: float) -> datetime:
        return self.start + timedelta(minutes=minute)

    @property
    def start(self) -> datetime:
        return run_of(self.code).start_at.astimezone(UTC)

    def note(
        self, step: str, kind: str, minute: float, *, by: str = "Ada", corrects: Noted | None = None, **content: Any
    ) -> Noted:
        number = len(self.notes) + 1
        made = Noted(
            number=number,
            key=f"k{number}",
            kind=kind,
            content={"step": step, **content} if step else content,
            happened_at=self.at(minute),
            made_at=self.at(minute),
            by=by,
            role="cook",
            corrects=corrects.key if corrects else "",
            reason="slip" if corrects else "",
        )
        self.notes.append(made)
        return made

    def withdraw(self, note: Noted, minute: float) -> Noted:
        return self.note("", "withdrawn", minute, corrects=note)

    def course(self, minute: float, *, state: State = "under_way", notes: list[Noted] | None = None) -> Course:
        kept = tuple(self.notes if notes is None else notes)
        return course_of(Running(the_plan(), sheet_of(self.code), state, kept), now=self.at(minute))


def loaded(frames: str = "15.6 kg", feet: str = "3.9 kg") -> Pencil:
    """A run that is loaded on time; its frames and feet as the scales show them."""
    pencil = Pencil()
    pencil.note("begin", "run_begun", 0)
    pencil.note("charge.1", "charge_weighed", 5, mass=frames)
    pencil.note("charge.2", "charge_weighed", 8, mass=feet)
    return pencil


def drawn_once() -> Pencil:
    """A run that is on time up to its first draw."""
    pencil = loaded()
    pencil.note("fill", "filled", 20)
    pencil.note("boil", "boil_reached", 90)
    pencil.note("skim", "skimmed", 110)
    pencil.note("temp.1", "temp_taken", 111, temp="95 C")
    pencil.note("add.4", "addition_made", 230, mass="1.95 kg")
    pencil.note("add.5", "addition_made", 260)
    pencil.note("draw.first", "drawn", 305, volume="26 L", temp="95 C")
    return pencil


def reducing() -> Pencil:
    """A run whose second draw has been poured back and boils down."""
    pencil = drawn_once()
    pencil.note("refill", "refilled", 315, mass="25.2 kg")
    pencil.note("boil.second", "boil_reached", 360)
    pencil.note("draw.second", "drawn", 495, mass="18.5 kg")
    pencil.note("brix.second", "brix_taken", 496, brix="1.4")
    return pencil
