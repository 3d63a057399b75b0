"""Batches as jobs of the schedule, with their ways to cool; those that can never run, with the reason."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import partial

from production.domain.batches import Batch
from production.domain.cooling_capacity import CoolingChoice, Hot, cooling_choices
from production.domain.errors import OutOfRange
from production.domain.formula import Charge
from production.domain.kitchen import Week
from production.domain.plan.charges import Ends, charges_of
from production.domain.plan.content import PlannedRun, Unserved
from production.domain.plan.frame import Frame, up_min
from production.domain.plan.options import Choices, option_of
from production.domain.plan.outcome import for_lines
from production.domain.plan.pools import members_of, parted
from production.domain.plan.refusals import boils_dry, no_cooling, no_supplier, refusal
from production.domain.schedule.problem import RunJob, RunOption
from production.domain.sourcing import Portioned, Wanted, source_ingredients

Adjust = Callable[[RunJob], RunJob]
Source = Callable[[Week, tuple[Wanted, ...]], tuple[Portioned, ...]]


@dataclass(frozen=True, slots=True)
class Ready:
    """A job with its draws as they come out of the pot, and the ways to cool them."""

    job: RunJob
    hot: Mapping[str, Hot]
    choices: Choices  # without curves and figures, unless it cools already


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What is settled before times are looked for: changed jobs, and runs that have begun with what is in them."""

    adjust: Adjust | None = None
    begun: Mapping[str, PlannedRun] = field(default_factory=dict)
    source: Source | None = None  # where goods come from, when some are on their way already

    def sourced(self, week: Week, wanted: tuple[Wanted, ...]) -> tuple[Portioned, ...]:
        """Where the goods of the runs come from."""
        return source_ingredients(week=week, wanted=wanted) if self.source is None else self.source(week, wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Jobs:
    """Runs that can be scheduled, and order lines of those that can not."""

    batches: Mapping[str, Batch]
    ready: Mapping[str, Ready]
    refused: tuple[Unserved, ...] = ()

    def without(self, batch: Batch, reason: Unserved) -> Jobs:
        """A run given up for a reason; it is in no pool any more."""
        return replace(
            self,
            batches={code: each for code, each in self.batches.items() if code != batch.code},
            ready={code: each for code, each in self.ready.items() if code != batch.code},
            refused=(*self.refused, *for_lines(batch, reason)),
        )


def jobs_of(frame: Frame, batches: Iterable[Batch], held: Held) -> Jobs:
    """Batches as jobs of the schedule; lines of those that can never run come back with the reason.

    Equation: a run needs a supplier for everything, a pot, and a way to cool each draw; a pool of which a member can
        never run is parted.
    Units: frame, batches, held (records); returns records, times in min.
    Valid: batches of the frame's week.
    Errors: UnknownParameter.
    Source: own definition.
    """
    by_code = {batch.code: batch for batch in batches}
    sourced = held.sourced(frame.week, tuple(_wanted(frame, by_code, held)))
    jobs = Jobs(batches=by_code, ready={})
    for host in [batch for batch in by_code.values() if not batch.pours_into]:
        jobs = _with_members(frame, jobs, members_of(by_code, host.code), sourced, held)
    return jobs


def _with_members(
    frame: Frame, jobs: Jobs, members: tuple[Batch, ...], sourced: Iterable[Portioned], held: Held
) -> Jobs:
    made = {batch.code: _ready(frame, members, batch, sourced, held) for batch in members}
    ready = {code: each for code, each in made.items() if isinstance(each, Ready)}
    if len(ready) == len(members):
        return replace(jobs, ready={**jobs.ready, **ready})
    if len(members) > 1:
        return part_pool(frame, jobs, members, sourced, held)
    (batch,), (reason,) = members, made.values()
    return jobs.without(batch, reason) if isinstance(reason, Unserved) else jobs


def part_pool(frame: Frame, jobs: Jobs, members: tuple[Batch, ...], sourced: Iterable[Portioned], held: Held) -> Jobs:
    """The jobs with a pool taken apart, each run reducing by itself.

    Equation: parted; each member is made ready again.
    Units: frame, jobs, members, sourced, held (records); returns records.
    Valid: a pool among the jobs.
    Errors: UnknownParameter.
    Source: own definition.
    """
    alone, left = parted(frame, members)
    gone = {batch.code for batch in members}
    jobs = Jobs(
        batches={code: each for code, each in jobs.batches.items() if code not in gone}
        | {batch.code: batch for batch in alone},
        ready={code: each for code, each in jobs.ready.items() if code not in gone},
        refused=(*jobs.refused, *left),
    )
    for batch in alone:
        jobs = _with_members(frame, jobs, (batch,), sourced, held)
    return jobs


def _wanted(frame: Frame, batches: Mapping[str, Batch], held: Held) -> Iterable[Wanted]:
    """Ingredients of each batch in the pot that takes most, on the day before its first dispatch."""
    for batch in batches.values():
        every = (
            []
            if batch.code in held.begun
            else [each for ends in charges_of(frame, members_of(batches, batch.code), batch) for each in ends]
        )
        if every:
            charge = max(every, key=lambda each: each.solids_kg)
            use_at = max(_first_dispatch_at(frame, batches, batch) - timedelta(days=1), frame.week.plan_from)
            yield from wanted_by(batch, charge, frame.local_date(use_at))


def _first_dispatch_at(frame: Frame, batches: Mapping[str, Batch], batch: Batch) -> datetime:
    """When the first of its containers leaves; the end of the plan where nobody waits for any."""
    portions = [portion for each in members_of(batches, batch.code) for portion in each.portions]
    dispatches = [peg.dispatch_at for portion in portions for peg in portion.pegs]
    return min(dispatches, default=frame.at(frame.horizon_min))


def wanted_by(batch: Batch, charge: Charge, use_on: date) -> Iterable[Wanted]:
    """What a run wants of each ingredient on its day.

    Equation: the weighings of the charge.
    Units: batch, charge (records; [kg]), use_on [calendar day]; returns records.
    Valid: any charge.
    Errors: none.
    Source: own definition.
    """
    for item in charge.items:
        yield Wanted(run=batch.code, ingredient=item.ingredient, mass_kg=item.mass_kg, use_on=use_on)


def _ready(
    frame: Frame, members: tuple[Batch, ...], batch: Batch, sourced: Iterable[Portioned], held: Held
) -> Ready | Unserved:
    parts = [part for part in sourced if part.run == batch.code]
    missing = next((part for part in parts if part.there_at is None), None)
    if missing is not None:
        return no_supplier(frame, batch, missing)
    charges = charges_of(frame, members, batch)
    if not charges:
        return boils_dry(frame, batch)
    every = charges_of(frame, members, batch, enough=False)
    hot = _hot(batch, [charge for ends in every for charge in ends])
    choices: Choices = {name: _choices(frame, each) for name, each in hot.items()}
    if batch.code in held.begun:
        choices = _with_cooling_now(frame, held.begun[batch.code], choices)
    if not all(choices.values()):
        return no_cooling(frame, batch, first=not choices["first"])
    try:
        job = _job(frame, batch, charges, choices, parts)
    except OutOfRange as error:  # a freezer that cannot freeze
        return refusal(batch, "storage", batch.first_l, "L", error.sentence, error.remedy)
    return Ready(held.adjust(job) if held.adjust else job, hot, choices)


def _hot(batch: Batch, charges: list[Charge]) -> dict[str, Hot]:
    """The draws of a batch as they come out of the pot, for the largest mass that any pot gives that takes it.

    Also of pots that give too little of a reduction: so a draw cools the same whatever the reduction is filled into.
    """
    first = max((charge.first for charge in charges), key=lambda draw: draw.cold_l)
    reductions = [charge.reduction for charge in charges if charge.reduction is not None]
    hot = {
        "first": Hot(
            litres=batch.first_l,
            density_kg_m3=1000.0 * first.mass_kg / first.cold_l,
            start_c=first.hot_c,
            glaze=False,
        )
    }
    if reductions:
        largest = max(reductions, key=lambda each: each.litres)
        hot["reduction"] = Hot(
            litres=largest.litres,
            density_kg_m3=1000.0 * largest.mass_kg / largest.litres,
            start_c=charges[0].boil_c,
            glaze=True,
        )
    return hot


def _choices(frame: Frame, hot: Hot) -> tuple[CoolingChoice, ...]:
    """Ways to cool a draw, without curves and figures."""
    ways = partial(cooling_choices, week=frame.week, parameters=frame.parameters, hot=hot, in_full=False)
    return frame.once(hot, ways)


def _with_cooling_now(frame: Frame, run: PlannedRun, choices: Choices) -> Choices:
    """What cools already goes on in its way, before any other of the same name."""
    begun = {draw.name: draw.cooling for draw in run.draws if draw.start_at < frame.week.plan_from}
    return {name: (begun[name], *ways) if name in begun else ways for name, ways in choices.items()}


def _job(frame: Frame, batch: Batch, charges: tuple[Ends, ...], choices: Choices, parts: list[Portioned]) -> RunJob:
    ingredients = {each.code: each for each in frame.week.ingredients}
    allergens = {name for item in charges[0][0].items for name in ingredients[item.ingredient].allergens}
    there = [part.there_at for part in parts if part.there_at is not None]
    return RunJob(
        code=batch.code,
        formula=batch.formula,
        allergens=frozenset(allergens),
        options=tuple(_options(frame, batch, charges, choices)),
        release_min=up_min(frame.minute(max([frame.week.plan_from, *there]))),
    )


def _options(frame: Frame, batch: Batch, charges: tuple[Ends, ...], choices: Choices) -> Iterable[RunOption]:
    """The run in each pot; in pots of one kind it is the same but for the pot and what feeds it."""
    known: dict[Hashable, RunOption] = {}
    for ends in charges:
        pot, pan = ends[0].pot, ends[0].pan
        kind = frame.kinds[pot], pan
        if kind not in known:
            known[kind] = option_of(frame, batch, ends, choices)
        supply = frame.week.get("heat_sources", frame.pots[pot].heat_source).supply
        yield replace(known[kind], pot=pot, supply=supply)
