"""What is cooling, as the floor sees it: how long is left, how it stands, what to do now."""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from production.domain.limits import Stage
from production.domain.records.advice import SAFE_FROM
from production.domain.records.advice_content import Spelling
from production.domain.records.advice_words import advice_sentence
from production.domain.records.standing import CoolingNow, OpenQuestion
from production.domain.records.verdicts import StageVerdict, State
from production.drawing.canvas import Size, Svg
from production.drawing.cooling_corridor import BandPoint, CoolingCorridor, CurveReading, LimitStep
from production.drawing.cooling_glance import cooling_glance
from production.drawing.measures import TempUnit, temp_text
from production.drawing.palette import Meaning
from production.web.present.floor_forms import FieldView, FormView
from production.web.style import Style, duration_text, minutes_between

_GLANCE = Size(width_px=430, height_px=150)
_LONGEST_MIN = 14 * 24 * 60
STATE_WORDS = {
    State.RUNNING: "running",
    State.MET: "every limit met",
    State.BREACHED: "limit missed",
    State.NOT_SHOWN: "not shown in time",
    State.NOT_STARTED: "clock not started",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionView:
    """A question with the answers that take one tap."""

    key: str
    text: str
    sentence: str
    remedy: str
    answers: tuple[FormView, ...]
    aside: FormView


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupView:
    """One group on the page of all that cools."""

    subject: str
    path: str  # of its page
    anchor: str
    title: str
    place: str
    meaning: Meaning
    words: str
    deadline: str  # instant, for the page to count down to
    left: str
    goal: str
    last: str
    forecast: str
    do_now: str
    reasons: tuple[str, ...]
    questions: tuple[QuestionView, ...]
    drawing: Svg
    reading: FormView
    close: FormView | None  # as soon as every limit is met


def groups_view(coolings: Iterable[CoolingNow], style: Style) -> tuple[GroupView, ...]:
    """All groups in the order they come: the one with the least time left first."""
    return tuple(group_view(each, style) for each in coolings)


def group_view(group: CoolingNow, style: Style) -> GroupView:
    """One group in words, with its curve."""
    stage = _stage_in_force(group)
    meaning, words = _standing(group, stage)
    is_lost = meaning == "past"
    deadline = stage.deadline_at if stage and not is_lost else None
    return GroupView(
        subject=group.subject,
        path=group.subject.removeprefix("cooling/"),
        anchor=anchor_of(group.subject),
        title=title_of(group),
        place=f"{group.device}: {group.vessels} × {group.vessel}, {style.amount(group.litres, 'L').text}, "
        f"{style.amount(group.depth_mm, 'mm').text} deep",
        meaning=meaning,
        words=words,
        deadline=deadline.isoformat() if deadline else "",
        left=_left_words(deadline, style.now),
        goal="" if is_lost else _goal_words(group, stage, style),
        last=_last_words(group, style),
        forecast=_forecast_words(group, stage, style),
        do_now=next(iter(help_sentences(group, style)), _mildest(group, meaning)),
        reasons=group.verdict.reasons,
        questions=tuple(_question(group, each, style) for each in group.questions),
        drawing=cooling_glance(corridor_of(group, style), _GLANCE),
        reading=reading_form(group, style),
        close=close_form(group) if group.verdict.state is State.MET and group.closed_at is None else None,
    )


def title_of(group: CoolingNow) -> str:
    """Run, draw, and what tells this group from others of the same draw."""
    title = f"{group.run} {group.draw.lower()}"
    if group.group > 1:
        title += f", group {group.group}"
    return title if group.attempt == 1 else f"{title}, attempt {group.attempt}"


def anchor_of(subject: str) -> str:
    """A short name of the subject within a page, the same each time."""
    return f"g{zlib.crc32(subject.encode()):x}"


# --- how it stands ----------------------------------------------------------------------------------------------------


def _law(group: CoolingNow, stage: StageVerdict) -> Stage:
    return next(each for each in group.rule.stages if each.number == stage.number)


def _stage_in_force(group: CoolingNow) -> StageVerdict | None:
    """The stage whose time is running out first; else the one that is missed, else the next to begin."""
    if group.running is not None:
        return group.running
    lost = [each for each in group.verdict.stages if each.state in (State.BREACHED, State.NOT_SHOWN)]
    waiting = [each for each in group.verdict.stages if each.state is State.NOT_STARTED]
    return next(iter([*lost, *waiting]), None)


def _standing(group: CoolingNow, stage: StageVerdict | None) -> tuple[Meaning, str]:
    """The mark and its words: a verdict where there is one, else what is to be expected."""
    state = group.verdict.state
    if group.is_unread:
        return "open", "no reading yet"
    if state in (State.BREACHED, State.NOT_SHOWN):
        return "past", STATE_WORDS[state]
    if state is State.MET:
        return "within", STATE_WORDS[state]
    if state is State.NOT_STARTED or group.forecast is None or stage is None:
        return "open", STATE_WORDS[state]
    if not group.chances:
        return "open", "running"
    chance, number = min((chance, number) for number, chance in group.chances)
    if chance >= SAFE_FROM:
        return "within", "within the limit"
    target = target_words(group, next(each for each in group.verdict.stages if each.number == number))
    return "near", f"{target} at risk: {_percent(chance)}"


def help_sentences(group: CoolingNow, style: Style) -> tuple[str, ...]:
    """What still keeps the limit that is in danger, with its numbers, the least work first."""
    stage = group.running
    to_c = _law(group, stage).to_c if stage else None
    if to_c is None:
        return ()
    unit = _unit(group, style)
    spelling = Spelling(
        clock=lambda minute: style.when(_at(group, minute)),
        temp=lambda temp_c: temp_text(temp_c, unit),
        mass=lambda mass_kg: style.amount(mass_kg, "kg").text,
        depth=lambda depth_mm: style.amount(depth_mm, "mm").text,
    )
    return tuple(advice_sentence(each, target_c=to_c, spelling=spelling) for each in group.advice)


def _mildest(group: CoolingNow, meaning: Meaning) -> str:
    """What is allowed and mildest, where something has to be done and nothing can be reckoned."""
    if group.is_unread:
        return "Take the first reading now."
    if group.verdict.state is State.MET and group.closed_at is None:
        return "Every limit is met: close the log, and put it into the store."
    if meaning not in ("near", "past") or not group.actions:
        return ""
    return group.actions[0].sentence


def _percent(chance: float) -> str:
    return "under 5 %" if chance < 0.05 else f"about {round(chance * 20) * 5} %"


def _left_words(deadline: datetime | None, now: datetime) -> str:
    if deadline is None:
        return ""
    left = minutes_between(now, deadline)
    return f"{duration_text(left)} left" if left >= 0 else f"{duration_text(-left)} over"


def target_words(group: CoolingNow, stage: StageVerdict) -> str:
    """The temperature to reach, as the rule prints it."""
    law = _law(group, stage)
    return f"{law.to_temp} °{law.unit}" if law.to_temp is not None else ""


def _goal_words(group: CoolingNow, stage: StageVerdict | None, style: Style) -> str:
    if stage is None or not (target := target_words(group, stage)):
        return ""
    if stage.deadline_at is None:
        return f"to {target}"
    return f"to {target} by {style.when(stage.deadline_at)}"


def _last_words(group: CoolingNow, style: Style) -> str:
    if not group.points:
        return "No reading yet."
    minute, temp_c = group.points[-1]
    count = "1 reading" if group.reading_count == 1 else f"{group.reading_count} readings"
    return f"{temp_text(temp_c, _unit(group, style))} at {style.when(_at(group, minute))}, {count}"


def _forecast_words(group: CoolingNow, stage: StageVerdict | None, style: Style) -> str:
    """When the target in force is to be expected, with the bounds that hold nine times in ten."""
    if group.forecast is None or stage is None or stage.state is not State.RUNNING:
        return ""
    to_c = _law(group, stage).to_c
    reach = next((each for each in group.forecast.reaches if each.temp_c == to_c and not each.seen), None)
    if reach is None:
        return ""
    target, low, high = target_words(group, stage), reach.minutes.low, reach.minutes.high
    if not math.isfinite(low):
        return f"{target} is not to be expected in this place."
    if not math.isfinite(high) or high > _LONGEST_MIN:
        return f"{target} expected from {style.when(_at(group, low))}, perhaps never in this place."
    return f"{target} expected {style.when(_at(group, low))} to {style.when(_at(group, high))}."


def _at(group: CoolingNow, minute: float) -> datetime:
    return group.opened_at + timedelta(minutes=minute)


def _unit(group: CoolingNow, style: Style) -> TempUnit:
    """The unit of the rule, so that limits, curve and readings agree."""
    if group.rule.stages and group.rule.stages[0].to_temp is not None:
        return group.rule.stages[0].unit
    return "F" if style.units == "us" else "C"


# --- the curve --------------------------------------------------------------------------------------------------------


def corridor_of(group: CoolingNow, style: Style) -> CoolingCorridor:
    """Readings and forecast against the limits, from the moment at which the clock started at the earliest."""
    zero = next((each.start_at for each in group.verdict.stages if each.start_at), group.opened_at)
    shift = minutes_between(zero, group.opened_at)
    band = group.forecast.band if group.forecast else ()
    end = group.points[-1] if group.points else None
    last = style.when(_at(group, end[0])) if end else ""  # the only one that is written beside its dot
    return CoolingCorridor(
        name=f"{title_of(group)}, {group.device}",
        start_label=style.when(zero),
        expected=(),
        limits=tuple(_steps(group, zero)),
        readings=tuple(
            CurveReading(at_min=minute + shift, temp_c=temp_c, at_label=last if (minute, temp_c) == end else "")
            for minute, temp_c in group.points
        ),
        forecast=tuple(
            BandPoint(at_min=each.minute + shift, low_c=each.temp_c.low, high_c=each.temp_c.high) for each in band
        ),
        now_min=minutes_between(zero, style.now),
        now_label=style.when(style.now),
        temp_unit=_unit(group, style),
    )


def _steps(group: CoolingNow, zero: datetime) -> Iterable[LimitStep]:
    """Where each limit lies; one whose clock has not begun is drawn where it would lie at the latest."""
    before_min = 0.0
    for stage in group.verdict.stages:
        law = _law(group, stage)
        if law.to_c is None or law.max_minutes is None:
            continue
        if stage.deadline_at is not None:
            by_min = minutes_between(zero, stage.deadline_at)
        else:
            by_min = (before_min if law.clock == "from_stage" else 0.0) + law.max_minutes
        meaning = "open" if group.is_unread else stage_meaning(stage.state)
        yield LimitStep(by_min=by_min, at_most_c=law.to_c, meaning=meaning)
        before_min = by_min


def stage_words(state: State) -> str:
    """How a limit stands."""
    return "met" if state is State.MET else STATE_WORDS[state]


def stage_meaning(state: State) -> Meaning:
    """The mark of a limit."""
    if state in (State.BREACHED, State.NOT_SHOWN):
        return "past"
    return "within" if state is State.MET else "open"


# --- forms ------------------------------------------------------------------------------------------------------------


def reading_form(group: CoolingNow, style: Style) -> FormView:
    """Two taps and a number; the thermometer is chosen once for the whole page, and the tablet remembers it."""
    unit = "F" if style.units == "us" else "C"
    return FormView(
        key=f"r{anchor_of(group.subject)}",
        kind="reading",
        subject=group.subject,
        says=title_of(group),
        button="Record",
        fields=(FieldView(name="temp", label="Reading", unit=f"°{unit}"),),
        hidden=(("unit", unit), ("thermometer", "")),
    )


def close_form(group: CoolingNow) -> FormView:
    """The end of a log; the verdict is written down with it."""
    return FormView(
        key=f"c{anchor_of(group.subject)}",
        kind="cooling_closed",
        subject=group.subject,
        button="Close this log",
        says=f"{title_of(group)}: log closed",
    )


def _question(group: CoolingNow, asked: OpenQuestion, style: Style) -> QuestionView:
    content = (("temp", asked.temp), ("unit", asked.unit), ("thermometer", asked.thermometer))
    other = "F" if asked.unit == "C" else "C"
    answers = [
        _answer(group, asked, "confirm", f"It is {asked.temp} °{asked.unit}", content, "looked again: it is right")
    ]
    if asked.code.startswith("unit-"):
        changed = (("temp", asked.temp), ("unit", other), ("thermometer", asked.thermometer))
        answers.append(_answer(group, asked, "unit", f"It was {asked.temp} °{other}", changed, "the unit was wrong"))
    aside = FormView(
        key=f"aside-{asked.number}",
        kind="reading_excluded",
        subject=group.subject,
        button="Set it aside",
        says=f"Set aside: {asked.temp} °{asked.unit}",
        style="plain",
        corrects=asked.key,
        asks_reason="Why",
        reasons=("probe was not in the food", "read or typed wrongly", "wrong vessel"),
    )
    return QuestionView(
        key=asked.key,
        text=f"{asked.temp} °{asked.unit} at {style.when(asked.measured_at)}",
        sentence=asked.sentence,
        remedy=asked.remedy,
        answers=tuple(answers),
        aside=aside,
    )


def _answer(
    group: CoolingNow, asked: OpenQuestion, name: str, label: str, content: tuple[tuple[str, str], ...], reason: str
) -> FormView:
    return FormView(
        key=f"{name}-{asked.number}",
        kind="reading",
        subject=group.subject,
        button=label,
        says=label,
        style="plain",
        hidden=(*content, ("confirmed:yes", "yes")),
        corrects=asked.key,
        reason=reason,
    )
