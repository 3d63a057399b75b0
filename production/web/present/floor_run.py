"""A run that is cooked, as its page shows it: the step to do now, what follows, and what was recorded."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from production.documents.pictures import pot_drawn, stage_kind
from production.documents.words import Units
from production.domain.records.course_content import ChargeNow, Course, Field, Noted, Step, StepNow
from production.domain.sheets import BatchSheet, StageLine
from production.domain.sheets.page import safe_mark_mm
from production.drawing.canvas import Size, Svg
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage, extraction_line
from production.drawing.pot_section import pot_section
from production.web.present.floor_forms import COUNT, UNDO_REASONS, YES, FieldView, FormView
from production.web.style import Amount, Style, minutes_between

_POT = Size(width_px=340, height_px=250)
_LINE_WIDE = Size(width_px=960, height_px=0)
_LINE_NARROW = Size(width_px=350, height_px=0)
_LATE_MIN = 5.0  # the grid of the schedule
_NUMERIC = frozenset({"mass", "volume", "temperature", "brix", "level", "depth"})
# What is measured out after the sheet stands there already; what is read off is never filled in beforehand.
_MEASURED_OUT = frozenset({"charge_weighed", "addition_made", "portioned", "trayed"})
STATE_WORDS = {
    "not_begun": "not begun",
    "under_way": "under way",
    "finished": "finished",
    "broken_off": "broken off",
}
BREAK_OFF_REASONS = ("pot or heat failed", "contents spoiled", "no longer wanted", "too late for its orders")


@dataclass(frozen=True, slots=True, kw_only=True)
class StepView:
    """One step with its form."""

    code: str
    status: str
    title: str
    do: str
    caution: str
    when: str
    until: str  # instant, for the page to count down to
    planned: str  # where it is otherwise
    expected: tuple[tuple[str, Amount], ...]
    form: FormView


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordView:
    """One entry as the list of what was recorded shows it."""

    key: str
    number: int
    title: str
    values: str
    when: str
    by: str
    note: str
    is_taken_back: bool
    confirm: FormView | None
    take_back: FormView | None
    undo: FormView | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerView:
    label: str
    until: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPage:
    """Everything on the page of a run."""

    code: str
    subject: str
    formula: str
    pot: str
    state: str
    state_words: str
    steps: tuple[StepView, ...]  # what is still to be done, in order
    again: tuple[StepView, ...]  # what may be recorded once more
    skipped: tuple[StepView, ...]
    timers: tuple[TimerView, ...]
    late: str
    affected: tuple[str, ...]
    offers_replan: bool
    figures: tuple[tuple[str, Amount], ...]
    said: tuple[str, ...]  # what follows from what was weighed and measured
    cautions: tuple[str, ...]
    pot_drawing: Svg
    line_wide: Svg
    line_narrow: Svg
    asked: tuple[RecordView, ...]  # what somebody must look at
    records: tuple[RecordView, ...]  # newest first
    break_off: FormView


def run_page(*, sheet: BatchSheet, course: Course, subject: str, style: Style) -> RunPage:
    """Put a run and its course into words, forms and drawings."""
    steps = {each.step.code: each.step for each in course.steps}
    waiting = [each for each in course.steps if each.status in ("current", "next", "later")]
    charge, lateness = course.charge, course.lateness
    records = tuple(_record(each, steps, course, subject, style) for each in reversed(course.log))
    return RunPage(
        code=course.run,
        subject=subject,
        formula=course.formula,
        pot=course.pot,
        state=course.state,
        state_words=STATE_WORDS[course.state],
        steps=tuple(_step(each, subject, style) for each in waiting),
        again=tuple(_step(each, subject, style, again=True) for each in course.steps if _may_repeat(each, course)),
        skipped=tuple(_step(each, subject, style) for each in course.steps if each.status == "skipped"),
        timers=tuple(TimerView(label=each.label, until=each.until.isoformat()) for each in course.timers),
        late=lateness.sentence if lateness.minutes >= _LATE_MIN or lateness.is_lost else "",
        affected=tuple(each.sentence for each in lateness.affected),
        offers_replan=lateness.offers_replan,
        figures=(
            ("Fill cold to below the rim", style.amount(_safe_mark_mm(charge, style), "mm")),
            ("Water", style.amount(charge.water_l, "L")),
            ("Solids", style.amount(charge.solids_kg, "kg")),
        ),
        said=tuple(_said(course)),
        cautions=course.cautions,
        pot_drawing=_pot(sheet, course, style),
        line_wide=extraction_line(_line(sheet, course, style), _LINE_WIDE),
        line_narrow=extraction_line(_line(sheet, course, style), _LINE_NARROW),
        asked=tuple(each for each in records if each.confirm),
        records=records,
        break_off=_break_off(subject),
    )


def _safe_mark_mm(charge: ChargeNow, style: Style) -> float:
    return safe_mark_mm(length_mm=charge.fill_mark_mm, is_us=style.units == "us")


def _may_repeat(each: StepNow, course: Course) -> bool:
    """A step that repeats stays open until the step is done that closes it."""
    if not each.step.repeats or each.status != "done" or course.state != "under_way":
        return False
    closing = course.at(each.step.open_until) if each.step.open_until else None
    return closing is None or closing.status != "done"


def _step(each: StepNow, subject: str, style: Style, *, again: bool = False) -> StepView:
    step = each.step
    moved_min = minutes_between(step.planned_at, each.expected_at)
    return StepView(
        code=step.code,
        status=each.status,
        title=step.title,
        do=step.do,
        caution=step.caution,
        when=style.when(each.expected_at),
        until=each.expected_at.isoformat(),
        planned=style.when(step.planned_at) if abs(moved_min) >= _LATE_MIN else "",
        expected=tuple(
            (field.label, style.amount(field.expected, field.unit))
            for field in step.fields
            if field.expected is not None and field.kind in _NUMERIC | {"count"}
        ),
        form=_form(step, subject, style, again=again),
    )


def _form(step: Step, subject: str, style: Style, *, again: bool) -> FormView:
    needed = set(step.ways[0]) if len(step.ways) == 1 else set()
    return FormView(
        key=f"step-{step.code}{'-again' if again else ''}",
        kind=step.kind,
        subject=subject,
        step="" if again else step.code,
        says=step.title,
        button=f"Record: {step.title}" if again else _verb(step),
        style="plain" if again else "act",
        fields=tuple(
            _field(each, style, required=each.name in needed, filled=step.kind in _MEASURED_OUT) for each in step.fields
        ),
        hidden=(("step", step.code),),
        may_be_earlier=True,
        hint=_ways_words(step),
    )


_VERBS = {
    "run_begun": "Begin this run",
    "charge_weighed": "Record the weight",
    "filled": "It is filled",
    "boil_reached": "It boils",
    "skimmed": "It is skimmed",
    "temp_taken": "Record the temperature",
    "addition_made": "It is added",
    "drawn": "Record the draw",
    "brix_taken": "Record the Brix",
    "refilled": "It is refilled",
    "poured": "It is poured over",
    "reduction_checked": "Record what is left",
    "portioned": "Record what was filled",
    "trayed": "Record the trays",
    "washed": "It is washed",
    "run_finished": "Close this run",
}


def _verb(step: Step) -> str:
    return _VERBS.get(step.kind, f"Done: {step.title}")


def _ways_words(step: Step) -> str:
    """Which boxes are enough, where there is a choice."""
    if len(step.ways) < 2:
        return ""
    ways: list[str] = []
    for way in step.ways:
        labels = [field.label if not ways else field.label.lower() for name in way if (field := step.field(name))]
        ways.append(" with ".join(labels))
    return ", or ".join(ways) + "."


def _field(field: Field, style: Style, *, required: bool, filled: bool) -> FieldView:
    shown = style.amount(_measure(field), field.unit) if field.unit else Amount("", "")
    expected = "" if field.expected is None else style.amount(field.expected, field.unit).number
    kind = "amount" if field.kind in _NUMERIC else field.kind
    return FieldView(
        name=field.name,
        label=field.label,
        kind=kind,
        unit="" if field.kind == "count" else shown.unit,
        value=expected if filled else "",
        options=tuple((each, each.replace("_", " ")) for each in field.choices),
        required=required,
    )


def _measure(field: Field) -> float:
    """A value of the size that is to be typed, so that the unit beside the box is the one it is read in."""
    return next((each for each in (field.expected, field.planned, field.high) if each is not None), 1.0)


def _said(course: Course) -> Iterable[str]:
    if course.charge.sentence:
        yield course.charge.sentence
    for draw in course.draws:
        if draw.sentence:
            yield draw.sentence
    if course.reduction is not None and course.reduction.sentence:
        yield course.reduction.sentence


def _pot(sheet: BatchSheet, course: Course, style: Style) -> Svg:
    """The pot as the charge is now."""
    now, fill = course.charge, sheet.fill
    solids_l = fill.solids_l * now.solids_kg / now.planned_solids_kg if now.planned_solids_kg else fill.solids_l
    filled = replace(
        fill,
        solids_l=solids_l,
        water_l=now.water_l,
        cold_fill_l=solids_l + now.water_l,
        fill_mark_mm=now.fill_mark_mm,
        hot_mark_mm=now.hot_mark_mm,
    )
    return pot_section(pot_drawn(filled, Units(style.units)), _POT)


def _line(sheet: BatchSheet, course: Course, style: Style) -> ExtractionLine:
    """The stages where they are now: what is late pushes all that comes after it."""
    zero = sheet.start_at
    moved = list(_moved(sheet, course))
    now_min = minutes_between(zero, style.now)
    end = max(course.lateness.end_at, moved[-1][2])
    return ExtractionLine(
        run_name=f"run {course.run}",
        stages=tuple(
            LineStage(
                kind=stage_kind(stage.kind),
                start_min=minutes_between(zero, start),
                end_min=minutes_between(zero, until),
                start_label=style.when(start),
                name=stage.title,
            )
            for stage, start, until in moved
        ),
        end_label=style.when(end),
        additions=tuple(
            LineAddition(
                at_min=minutes_between(zero, each.expected_at),
                at_label=style.when(each.expected_at),
                name=each.step.title,
            )
            for each in course.steps
            if each.step.kind == "addition_made"
        ),
        now_min=now_min if course.state == "under_way" and 0 <= now_min <= minutes_between(zero, end) else None,
        now_label=style.when(style.now),
    )


def _moved(sheet: BatchSheet, course: Course) -> Iterable[tuple[StageLine, datetime, datetime]]:
    """Each stage with its beginning and its end as they are now."""
    late = timedelta(0)
    for stage in sheet.stages:
        start = stage.start_at + late
        own = [each for each in course.steps if each.step.stage == stage.kind and each.step.moves_times]
        if own:
            late = max(timedelta(0), own[-1].expected_at - own[-1].step.planned_at)
        yield stage, start, max(start, stage.end_at + late)


# --- what was recorded ------------------------------------------------------------------------------------------------

_KIND_WORDS = {
    "run_begun": "Begun",
    "run_finished": "Finished",
    "run_broken_off": "Broken off",
    "withdrawn": "Taken back",
    "temp_taken": "Temperature",
}
_NOT_SAID = frozenset({"step", "confirmed", "question", "question_says", "question_remedy", "device_offset_s"})
_NEVER_TAKEN_BACK = frozenset({"run_begun", "withdrawn", "run_broken_off"})


def _record(noted: Noted, steps: dict[str, Step], course: Course, subject: str, style: Style) -> RecordView:
    step = steps.get(noted.step)
    is_taken_back = noted.key in course.withdrawn
    is_asked = noted.is_asked_about and not is_taken_back
    notes = [f"{noted.text('question_says')} {noted.text('question_remedy')}".strip()] if is_asked else []
    if minutes_between(noted.happened_at, noted.made_at) >= _LATE_MIN:
        notes.append(f"written down at {style.when(noted.made_at)}")
    if noted.reason:
        notes.append(f"reason: {noted.reason}")
    return RecordView(
        key=noted.key,
        number=noted.number,
        title=step.title if step else _KIND_WORDS.get(noted.kind, noted.kind.replace("_", " ").capitalize()),
        values=_values(noted),
        when=style.when(noted.happened_at),
        by=noted.by,
        note="; ".join(notes),
        is_taken_back=is_taken_back,
        confirm=_confirm(noted, subject) if is_asked else None,
        take_back=_taken_back(noted, subject) if is_asked and noted.kind not in _NEVER_TAKEN_BACK else None,
        undo=None if is_taken_back or noted.kind in _NEVER_TAKEN_BACK else _undo(noted, step, subject),
    )


def _values(noted: Noted) -> str:
    said = (
        f"{value}" for name, value in noted.content.items() if name not in _NOT_SAID and not isinstance(value, dict)
    )
    return ", ".join(each for each in said if each)


def _undo(noted: Noted, step: Step | None, subject: str) -> FormView:
    title = step.title if step else noted.kind.replace("_", " ")
    return FormView(
        key=f"undo-{noted.number}",
        kind="withdrawn",
        subject=subject,
        corrects=noted.key,
        says=f"Taken back: {title}",
        button="Take it back",
        style="plain",
        asks_reason="Why",
        reasons=UNDO_REASONS,
    )


def _confirm(noted: Noted, subject: str) -> FormView:
    """What was asked about stands as it was typed."""
    said = {name: value for name, value in noted.content.items() if name not in _NOT_SAID - {"step"}}
    marks = {name: YES if value is True else COUNT if isinstance(value, int) else "" for name, value in said.items()}
    return FormView(
        key=f"confirm-{noted.number}",
        kind=noted.kind,
        subject=subject,
        button="It is right",
        says="Looked again: it is right",
        style="plain",
        hidden=(*((f"{name}{marks[name]}", f"{value}") for name, value in said.items()), (f"confirmed{YES}", "yes")),
        corrects=noted.key,
        reason="looked again: it is right",
    )


def _taken_back(noted: Noted, subject: str) -> FormView:
    """The answer to a question that takes one tap."""
    return FormView(
        key=f"back-{noted.number}",
        kind="withdrawn",
        subject=subject,
        corrects=noted.key,
        says="Taken back after a question",
        button="Take it back",
        style="plain",
        reason="taken back after a question",
    )


def _break_off(subject: str) -> FormView:
    return FormView(
        key="break-off",
        kind="run_broken_off",
        subject=subject,
        says="Run broken off",
        button="Break off this run",
        style="grave",
        fields=(
            FieldView(
                name="why", label="Why", kind="choice", options=tuple((each, each) for each in BREAK_OFF_REASONS)
            ),
            FieldView(
                name="contents",
                label="What becomes of what is in the pot",
                kind="choice",
                options=(
                    ("discarded", "discarded"),
                    ("held", "held until somebody decides"),
                    ("nothing", "nothing is in the pot"),
                ),
            ),
        ),
    )
