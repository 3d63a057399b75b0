"""Whether a run may be moved to another pot or time, and what would stand against it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from production.domain.formula import pot_allowed
from production.domain.plan.clock import clock_text, spell_text
from production.domain.plan.content import Plan, PlannedRun
from production.domain.plan.frame import Frame
from production.domain.plan.rebuild import Rebuilt, rebuilt
from production.domain.plan.repair import schedule_of
from production.domain.schedule.book import Book
from production.domain.schedule.check import check_schedule
from production.domain.schedule.placement import best_placement
from production.domain.schedule.problem import Draw, RunJob, RunOption
from production.domain.schedule.result import Placed, PlacedCooling, PlacedRun, Violation


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveVerdict:
    """What the checker says to a run in another pot or at another time, all others left where they are."""

    run: str
    pot: str
    start_at: datetime
    fits: bool
    sentences: tuple[str, ...]  # what stands against it; or what it changes
    lateness_before_h: float
    lateness_after_h: float
    end_at: datetime | None = None  # when the pot would be washed
    never: bool = False  # whatever else is moved

    @property
    def later_h(self) -> float:
        """By how much the plan gets later; less than nothing where it gains."""
        return self.lateness_after_h - self.lateness_before_h


def judge_move(plan: Plan, *, run: str, pot: str, start_at: datetime) -> MoveVerdict:
    """Try a run in a pot at a start, with all other runs where they are.

    Equation: its stages keep their length, or take the lengths that fit; the independent checker judges the whole
        schedule. The start is taken on the schedule's grid, rounded up.
    Units: plan (record), run, pot (codes), start_at [instant]; returns a record with [h] of weighted lateness.
    Valid: runs of the plan.
    Errors: none; what cannot be is told in sentences.
    Source: own definition.
    """
    known = rebuilt(plan)
    planned = next((each for each in plan.runs if each.code == run), None)
    if planned is None:
        return replace(_refused(plan, run, pot, start_at, f"There is no run {run} in this plan."), never=True)
    wrong = _wrong(plan, known, planned, pot)
    if wrong:
        return replace(_refused(plan, run, pot, start_at, wrong), never=True)
    step = known.problem.step_min
    minute = -(-known.frame.minute_after(start_at) // step) * step
    job = next(job for job in known.problem.jobs if job.code == run)
    faults: tuple[Violation, ...] = ()
    for moved in _moves(known, job, planned.placed, pot, minute):
        problem = replace(known.problem, jobs=tuple(_unlocked(each, run) for each in known.problem.jobs))
        schedule = schedule_of(problem, [moved if each.job == run else each for each in known.schedule.runs])
        found = check_schedule(problem, schedule)
        if not found:
            return _fitting(plan, known, planned, moved, schedule.lateness_h)
        faults = faults or found
    sentences = tuple(_told(plan, known, planned, pot, minute, fault) for fault in _first_of_each(faults))
    return replace(_refused(plan, run, pot, start_at, ""), sentences=sentences, start_at=known.frame.at(minute))


def _unlocked(job: RunJob, run: str) -> RunJob:
    return replace(job, start_at_min=None) if job.code == run else job


def _refused(plan: Plan, run: str, pot: str, start_at: datetime, sentence: str) -> MoveVerdict:
    late_h = plan.schedule.lateness_h
    return MoveVerdict(
        run=run,
        pot=pot,
        start_at=start_at,
        fits=False,
        sentences=(sentence,),
        lateness_before_h=late_h,
        lateness_after_h=late_h,
    )


def _fitting(plan: Plan, known: Rebuilt, planned: PlannedRun, moved: PlacedRun, late_h: float) -> MoveVerdict:
    before_h, at = plan.schedule.lateness_h, known.frame.at
    words = [f"{planned.code} fits: its pot is free again at {clock_text(at(moved.pot_free_min), known.frame.zone)}."]
    if abs(late_h - before_h) > 1e-6:
        words.append(f"Orders leave {abs(late_h - before_h):.1f} weighted h {_later(late_h > before_h)} in all.")
    longer = _simmered(moved) - _simmered(planned.placed)
    if longer:
        words.append(f"It simmers {spell_text(abs(longer))} {'longer' if longer > 0 else 'less'} than planned.")
    return MoveVerdict(
        run=planned.code,
        pot=moved.pot,
        start_at=at(moved.start_min),
        fits=True,
        sentences=tuple(words),
        lateness_before_h=before_h,
        lateness_after_h=late_h,
        end_at=at(moved.pot_free_min),
    )


def _later(is_later: bool) -> str:
    return "later" if is_later else "earlier"


def _simmered(run: PlacedRun) -> int:
    return sum(stage.end_min - stage.start_min for stage in run.stages if stage.name.endswith("simmer"))


# What cannot be, whatever the time


def _wrong(plan: Plan, known: Rebuilt, planned: PlannedRun, code: str) -> str:
    pot = known.frame.pots.get(code)
    formula = known.frame.formulas[planned.formula]
    if planned.code in known.begun:
        return f"{planned.code} has been begun: it stays where it is."
    if pot is None:
        return f"The kitchen has no pot {code}."
    if pot.reduction_pan:
        return f"{pot.name} is a pan for reductions: no stock is made in it."
    if not pot_allowed(formula=formula, pot=pot):
        return f"{formula.name} may not be made in {pot.name}."
    job = next((job for job in known.problem.jobs if job.code == planned.code), None)
    if job is None or all(option.pot != code for option in job.options):
        return f"{pot.name} does not take the {planned.batch.first_l:.0f} L of {planned.code}: too small, or too large."
    return ""


# Where it would go


def _moves(known: Rebuilt, job: RunJob, placed: PlacedRun, pot: str, minute: int) -> Iterable[PlacedRun]:
    """The run at its new place with the lengths it has, then with lengths that fit, if there are any."""
    indexes = [index for index, option in enumerate(job.options) if option.pot == pot]
    indexes.sort(key=lambda index: _pan(job.options[index]) != placed.pan)
    yield _as_planned(job, indexes[0], placed, minute)
    book = Book(known.problem)
    jobs = {each.code: each for each in known.problem.jobs}
    for other in known.schedule.runs:
        if other.job != job.code:
            book.take_run(jobs[other.job], other, 1)
    for index in indexes:
        found = best_placement(book, replace(job, start_at_min=minute), only_option=index)
        if found is not None:
            yield found.run


def _pan(option: RunOption) -> str:
    return option.pan.code if option.pan else ""


def _as_planned(job: RunJob, index: int, placed: PlacedRun, minute: int) -> PlacedRun:
    option = job.options[index]
    lengths = {stage.name: stage.end_min - stage.start_min for stage in placed.stages}
    stages, begin = [], minute
    for stage in option.stages:
        length = min(stage.longest_min, max(stage.shortest_min, lengths.get(stage.kind, stage.shortest_min)))
        stages.append(Placed(name=stage.kind, start_min=begin, end_min=begin + length))
        begin += length
    additions = []
    for task in option.additions:
        start = stages[task.stage].end_min - task.before_end_min
        additions.append(Placed(name=task.name, start_min=start, end_min=start + task.cook_min))
    modes = {cooling.draw: cooling.mode for cooling in placed.coolings}
    return PlacedRun(
        job=job.code,
        option=index,
        pot=option.pot,
        stages=tuple(stages),
        additions=tuple(sorted(additions, key=lambda each: (each.start_min, each.name))),
        coolings=tuple(_cooled(draw, modes.get(draw.name), stages[draw.stage].end_min) for draw in option.draws),
        wash=_washed(option.wash_min, stages[option.last_pot_stage].end_min),
        why_here="",
        pan=_pan(option),
        pan_wash=_washed(option.pan.wash_min, begin) if option.pan else None,
    )


def _cooled(draw: Draw, wanted: str | None, start: int) -> PlacedCooling:
    mode = next((mode for mode in draw.modes if mode.name == wanted), draw.modes[0])
    return PlacedCooling(
        draw=draw.name,
        mode=mode.name,
        places=mode.places,
        ice_kg=mode.ice_kg,
        start_min=start,
        end_min=start + mode.minutes,
        ready_min=start + mode.minutes + draw.freeze_min,
    )


def _washed(minutes: int, start: int) -> Placed | None:
    return Placed(name="wash", start_min=start, end_min=start + minutes) if minutes else None


# The checker's findings in the words of the kitchen


_WORDS = {
    "too-early": "its ingredients are not there yet, or that time is over",
    "moved": "another run that is held at its start would have to move",
    "nobody-on-site": "nobody is in the kitchen for work that needs hands or eyes",
    "unattended": "a pot would be on the heat with nobody there, which this kitchen does not allow",
    "cooks": "more hands are needed than are on duty",
    "heat": "the heat supply does not feed all pots that are on then",
    "cooling-places": "there is no free place to cool a draw",
    "cooling-unattended": "nobody is there to read the cooling",
    "ice": "the ice bin does not hold enough for the cooling",
    "trays": "there are too few free cube trays",
    "store": "a store has no room for what would be ready",
    "shelf-life": "it would be ready so early that it does not keep until its dispatch",
    "outage": "the pot is out of use",
    "soak": "the pot needs its extra clean between two formulas with other allergens",
    "addition": "an addition has no place in its simmer",
    "stage-length": "a simmer would be shorter or longer than its formula says",
    "join": "it is reduced together with another run, and their times would part",
    "horizon": "it would end after the planned time",
}


def _first_of_each(faults: Iterable[Violation]) -> list[Violation]:
    """The first fault of each kind; hands that are missing because nobody is there are told once."""
    first: dict[str, Violation] = {}
    for fault in faults:
        first.setdefault(fault.code, fault)
    if "nobody-on-site" in first:
        first.pop("cooks", None)
    return list(first.values())


def _told(plan: Plan, known: Rebuilt, planned: PlannedRun, pot: str, minute: int, fault: Violation) -> str:
    when = clock_text(known.frame.at(fault.at_min), known.frame.zone)
    if fault.code == "pot":
        return _taken(plan, known.frame, planned, pot, minute)
    return f"{when}: {_WORDS.get(fault.code, fault.sentence.rstrip('.'))}."


def _taken(plan: Plan, frame: Frame, planned: PlannedRun, pot: str, minute: int) -> str:
    """Which run has the pot, and until when."""
    length = planned.placed.pot_free_min - planned.placed.start_min
    others = [
        run
        for run in plan.runs
        if run.code != planned.code
        and run.pot == pot
        and run.placed.start_min < minute + length
        and minute < run.placed.pot_free_min
    ]
    name = frame.pots[pot].name
    if not others:
        return f"{name} is taken by another run at that time."
    first = min(others, key=lambda run: run.placed.start_min)
    held = f"from {clock_text(first.start_at, frame.zone)} to {clock_text(first.end_at, frame.zone)}"
    return f"{name} holds {first.code} ({frame.formulas[first.formula].name}) {held}."
