"""The completed batch record of a run: its frozen sheet and course, put side by side line by line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.errors import BadQuantity
from production.domain.plan import PlannedRun
from production.domain.records.course_content import ChargeNow, Course, DrawNow, Field, Noted, Step, StepNow
from production.domain.records.course_state import WITHDRAWN
from production.domain.records.course_typed import LONGEST_NOTE, typed_amount
from production.domain.sheets import BatchSheet, CompletedBatchRecord
from production.domain.sheets.batch_record import (
    ChargeCompared,
    FilledCompared,
    RecordedCooling,
    RecordedDeviation,
    RecordedDraw,
    RecordedLine,
    RecordedLot,
    RecordedNumber,
)

WRITTEN_LATE = timedelta(minutes=15)  # a record that was entered later than this is marked (own choice)
_BROKEN_OFF = "run_broken_off"
_TITLES = {"temp_taken": "Temperature between", _BROKEN_OFF: "Run broken off", WITHDRAWN: "Record taken back"}
_CAUTIONS = (
    "Local code and the kitchen's approved food-safety plan decide; this record only shows what was written down.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the run has led to, as it stands when the record is issued."""

    begun_at: datetime
    ended_at: datetime
    coolings: tuple[RecordedCooling, ...]
    lots: tuple[RecordedLot, ...]
    deviations: tuple[RecordedDeviation, ...]


def batch_record_of(
    sheet: BatchSheet, run: PlannedRun, course: Course, planned: Sequence[Step], outcome: Outcome
) -> CompletedBatchRecord:
    """The completed record of a run that is over.

    Equation: each step of the sheet with its records, planned beside real; records that were taken back or corrected
        follow the step they belonged to, struck through; then draws against the plan, and what came of them.
    Units: sheet, run, course, planned (the steps before anything was weighed), outcome (records); returns a record with
        numbers in the unit that each names.
    Valid: the course of this sheet's run, finished or broken off.
    Errors: none.
    Source: own definition.
    """
    zone = ZoneInfo(sheet.heading.time_zone)
    numbers = [note.number for note in course.log]
    return CompletedBatchRecord(
        kind="completed_batch_record",
        key=sheet.key,
        heading=sheet.heading,
        run=sheet.run,
        formula=sheet.formula,
        formula_version=sheet.formula_version,
        pot=sheet.fill.pot,
        state=course.state,
        state_words=_state_words(course),
        planned_start_at=run.start_at,
        planned_end_at=run.end_at,
        begun_at=outcome.begun_at,
        ended_at=outcome.ended_at,
        charge=_charge(course.charge),
        lines=tuple(_lines(course, {step.code: step for step in planned}, zone)),
        draws=tuple(_draw(each) for each in course.draws),
        coolings=outcome.coolings,
        lots=outcome.lots,
        deviations=outcome.deviations,
        allergens=sheet.allergens,
        people=tuple(dict.fromkeys(f"{note.by} ({note.role})" for note in course.log)),
        cautions=_CAUTIONS,
        book_first=min(numbers, default=0),
        book_last=max(numbers, default=0),
    )


def _state_words(course: Course) -> str:
    broken = next((note for note in course.others if note.kind == _BROKEN_OFF), None)
    if broken is None:
        return ""
    became = {"discarded": "it was discarded", "held": "it was held", "nothing": "nothing was in the pot"}
    return f"{broken.text('why')}; {became.get(broken.text('contents'), broken.text('contents'))}"


def _charge(charge: ChargeNow) -> ChargeCompared:
    return ChargeCompared(
        solids_kg=charge.solids_kg,
        planned_solids_kg=charge.planned_solids_kg,
        water_l=charge.water_l,
        planned_water_l=charge.planned_water_l,
        fill_mark_mm=charge.fill_mark_mm,
        planned_fill_mark_mm=charge.planned_fill_mark_mm,
        sentence=charge.sentence,
    )


def _draw(draw: DrawNow) -> RecordedDraw:
    return RecordedDraw(
        name=draw.name,
        mass_kg=draw.mass_kg,
        planned_kg=draw.planned_kg,
        cold_l=draw.cold_l,
        planned_cold_l=draw.planned_cold_l,
        solids_bx=draw.solids_bx,
        filled=tuple(
            FilledCompared(product=each.product, container=each.container, planned=each.planned, possible=each.possible)
            for each in draw.filled
        ),
        sentence=draw.sentence,
    )


# --- lines ------------------------------------------------------------------------------------------------------------


def _lines(course: Course, planned: Mapping[str, Step], zone: ZoneInfo) -> Iterable[RecordedLine]:
    """Steps in the order of the sheet, what was struck after the step it was of; last what belongs to no step."""
    said = _said_later(course.log)
    dead = [note for note in course.log if note.key in course.withdrawn and note.kind != WITHDRAWN]
    codes = {each.step.code for each in course.steps}
    for each in course.steps:
        was = planned.get(each.step.code, each.step)
        yield from _of_step(each, was)
        for note in dead:
            if note.step == each.step.code:
                yield _line(was, each.step.title, note, struck_why=_struck(said.get(note.key), zone))
    for note in course.others:
        yield _line(None, _title(note), note)
    for note in dead:
        if note.step not in codes:
            yield _line(None, _title(note), note, struck_why=_struck(said.get(note.key), zone))


def _of_step(now: StepNow, was: Step) -> Iterable[RecordedLine]:
    if now.record is None:
        yield RecordedLine(
            title=now.step.title,
            planned_at=was.planned_at,
            done_at=None,
            number=None,
            by="",
            numbers=(),
            remarks=("not recorded",),
            struck=False,
            struck_why="",
        )
        return
    if now.step.repeats:
        for note in (*now.also, now.record):
            yield replace(_line(was, now.step.title, note), planned_at=None)  # as often as wanted, whenever
        return
    yield _line(was, now.step.title, now.record)
    for note in now.also:
        yield _line(was, now.step.title, note, also="recorded as well; the first one counts")


def _title(note: Noted) -> str:
    return _TITLES.get(note.kind, note.kind.replace("_", " ").capitalize())


def _line(step: Step | None, title: str, note: Noted, *, also: str = "", struck_why: str = "") -> RecordedLine:
    return RecordedLine(
        title=title,
        planned_at=None if step is None else step.planned_at,
        done_at=note.happened_at,
        number=note.number,
        by=note.by,
        numbers=tuple(_numbers(step, note)),
        remarks=tuple(filter(None, (also, *_remarks(note)))),
        struck=bool(struck_why),
        struck_why=struck_why,
    )


def _numbers(step: Step | None, note: Noted) -> Iterable[RecordedNumber]:
    """What was typed; of a temperature between steps what stands in the entry."""
    boxes = () if step is None else step.fields
    for box in boxes:
        if note.content.get(box.name) not in (None, ""):
            yield _number(box, note)
    if step is None and note.text("temp"):
        yield RecordedNumber(label="Temperature", typed=note.text("temp"), unit="degC", value=None, planned=None)


def _number(box: Field, note: Noted) -> RecordedNumber:
    try:
        value: float | None = typed_amount(box, note.content[box.name])
    except BadQuantity:
        value = None
    return RecordedNumber(label=box.label, typed=note.text(box.name), unit=box.unit, value=value, planned=box.planned)


def _remarks(note: Noted) -> Iterable[str]:
    if note.is_asked_about:
        yield f"asked about and never confirmed: {note.text('question_says')}"
    elif note.content.get("confirmed") is True:
        yield "unusual, and confirmed"
    if note.kind == _BROKEN_OFF:
        yield f"{note.text('why')}; in the pot: {note.text('contents')}"
    if note.text("lot"):
        yield f"lot {note.text('lot')}"
    if note.text("lot_doubt"):
        yield note.text("lot_doubt")
    if note.text("note"):
        yield note.text("note")[:LONGEST_NOTE]
    if note.corrects and note.reason:
        yield f"corrects what was written before: {note.reason}"
    late = note.made_at - note.happened_at
    if late > WRITTEN_LATE:
        yield f"written down {round(late / timedelta(minutes=1))} min later"
    if note.content.get("device_offset_s"):
        yield "clock of the tablet put right"


def _said_later(log: Iterable[Noted]) -> Mapping[str, Noted]:
    """The latest word about each record."""
    return {note.corrects: note for note in sorted(log, key=lambda each: each.number) if note.corrects}


def _struck(later: Noted | None, zone: ZoneInfo) -> str:
    if later is None:
        return "does not count"
    what = "taken back" if later.kind == WITHDRAWN else "entered again"
    return f"{what}: {later.reason} ({later.by}, {later.made_at.astimezone(zone):%H:%M}, entry {later.number})"
