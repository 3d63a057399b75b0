"""What a late run waits for and what that waits for, link by link; and who has what an unserved order line lacks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from production.domain.formula import pot_allowed
from production.domain.plan.clock import clock_text, listed
from production.domain.plan.content import Plan, Unserved
from production.domain.plan.rebuild import Rebuilt, rebuilt
from production.domain.schedule.book import (
    COOKS,
    COOLING,
    HEAT,
    HOURS,
    ICE,
    INGREDIENTS,
    POTS,
    SHELF_LIFE,
    STORAGE,
    TRAYS,
    Book,
    shape_of,
)
from production.domain.schedule.chain import LONGEST, Link, critical_chain
from production.domain.schedule.holding import Need, users_of
from production.domain.schedule.reasons import is_scarce
from production.domain.schedule.result import PlacedRun

NAMED = 3  # runs in the way that are named (own choice)
LOOK_BACK_H = 24  # who has something so long before a dispatch is in the way of it (own choice)
_LISTS = {HEAT: "heat_supplies", COOLING: "cooling_devices", TRAYS: "cube_trays", STORAGE: "stores", POTS: "pots"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """One link: something is waited for until a moment, because others have it."""

    run: str  # that waits; empty for an order line
    resource: str
    code: str  # pot, heat supply, device, tray or store; empty where there is only one of the kind
    until_at: datetime
    held_by: tuple[str, ...]  # runs that have it meanwhile, the one that keeps it longest first
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Waits:
    """A chain of waits, what is at its end, and its runs in the order in which they are named."""

    links: tuple[Wait, ...]
    end: str
    runs: tuple[str, ...]


def waits_of_run(plan: Plan, run: str) -> Waits:
    """The critical chain of a run of the plan, in words.

    Equation: critical_chain of the schedule, of a late run from what it is short of; at its end the run that nothing
        earlier holds, with the reason why it is where it is.
    Units: plan (record), run (code); returns a record with instants.
    Valid: runs of the plan.
    Errors: none; a code that the plan does not have gives no links.
    Source: own definition.
    """
    known = rebuilt(plan)
    late = max(
        (each for each in plan.late if each.run == run), key=lambda each: each.ready_at - each.due_at, default=None
    )
    chain = critical_chain(known.problem, known.schedule, run, short_of=late.resource if late else "")
    links = _links(plan, known, chain)
    return Waits(links=links, end=_end(plan, run, links), runs=_runs([run], links))


def waits_of_line(plan: Plan, line: str) -> Waits:
    """Who has what an unserved order line lacks before its dispatch, and what they wait for.

    Equation: runs that use the resource that is missing within the day before the dispatch, the one that keeps it
        longest first; then the critical chain of that one. A line that lacks something that no run has taken
        (goods, a pot that suits it, a way to cool it) has no links.
    Units: plan (record), line (code); returns a record with instants.
    Valid: unserved lines of the plan.
    Errors: none; a line that is served gives no links.
    Source: own definition.
    """
    known = rebuilt(plan)
    missing = next((each for each in plan.unserved if each.line == line), None)
    first = None if missing is None else _first(plan, known, missing)
    if first is None:
        return Waits(links=(), end="" if missing is None else _NOBODYS, runs=())
    links = (first, *_links(plan, known, critical_chain(known.problem, known.schedule, first.held_by[0])))
    return Waits(links=links, end=_end(plan, "", links), runs=_runs([], links))


_NOBODYS = "No other run has what it lacks: moving runs alone would not help."


def _runs(first: Iterable[str], links: tuple[Wait, ...]) -> tuple[str, ...]:
    """Each run that waits in its turn, and the one that the last waits for."""
    waiting = [link.run for link in links if link.run]
    last = links[-1].held_by[:1] if links else ()
    return tuple(dict.fromkeys([*first, *waiting, *last]))


def _links(plan: Plan, known: Rebuilt, chain: tuple[Link, ...]) -> tuple[Wait, ...]:
    zone = known.frame.zone
    return tuple(
        Wait(
            run=link.job,
            resource=link.resource,
            code=link.code,
            until_at=known.frame.at(link.until_min),
            held_by=held_by,
            sentence=_sentence(plan, link, held_by, clock_text(known.frame.at(link.until_min), zone)),
        )
        for link, held_by in zip(chain, _held_by(chain), strict=True)
    )


def _held_by(chain: tuple[Link, ...]) -> Iterable[tuple[str, ...]]:
    """Runs in the way, with the one that the chain goes on with first."""
    for index, link in enumerate(chain):
        after = [chain[index + 1].job] if index + 1 < len(chain) else []
        yield tuple(dict.fromkeys([*after, *link.blocked_by]))


def _sentence(plan: Plan, link: Link, held_by: tuple[str, ...], until: str) -> str:
    name, stage = _name(plan, link.resource, link.code), _stage(plan, link.what)
    has = _HAS.get(link.resource, ("", ""))[len(held_by) > 1]
    taken = f"; {_several(held_by)} {has}" if held_by else ""
    waits = {
        POTS: f"waits for {name} until {until}{taken or '; it is out of use before'}",
        COOKS: f"waits for free hands for its {stage} until {until}{taken}",
        HEAT: f"waits for heat from {name} until {until}{taken}",
        COOLING: f"waits for room in {name} until {until}{taken}",
        TRAYS: f"waits for trays ({name}) until {until}{taken}",
        STORAGE: f"waits for room in {name} until {until}{taken}",
        ICE: f"waits for ice until {until}{taken}",
        HOURS: f"waits for the shift: before {until} nobody would be there for its {stage}",
        INGREDIENTS: f"waits for its ingredients until {until}",
        SHELF_LIFE: f"is ready no earlier than {until}, so that it keeps until its dispatch",
    }
    return f"{link.job} {waits[link.resource]}."


_HAS = {
    POTS: ("is in it", "are in it one after another"),
    COOKS: ("needs them", "need them"),
    HEAT: ("draws it", "draw it"),
    COOLING: ("is in it", "are in it"),
    TRAYS: ("has them", "have them"),
    STORAGE: ("stands there", "stand there"),
    ICE: ("has taken it", "have taken it"),
}


def _stage(plan: Plan, what: str) -> str:
    """A stage, or the name of what is added."""
    return next((each.name for each in plan.week.ingredients if each.code == what), what.replace("_", " "))


def _name(plan: Plan, resource: str, code: str) -> str:
    kind = _LISTS.get(resource)
    if kind is None or not code:
        return code
    return next((each.name for each in getattr(plan.week, kind) if each.code == code), code)


def _several(runs: tuple[str, ...]) -> str:
    more = len(runs) - NAMED
    return listed((*runs[:NAMED], *([f"{more} more"] if more > 0 else [])))


def _end(plan: Plan, run: str, links: tuple[Wait, ...]) -> str:
    """What is at the end: why the run stands there that nothing earlier holds, or that the chain goes on."""
    last = links[-1].held_by[0] if links and links[-1].held_by else "" if links else run
    if last and len(links) >= LONGEST:
        return f"The chain goes on behind {last}."
    if last and last in {link.run for link in links}:
        return f"{links[-1].run} and {last} are in each other's way then."
    placed = next((each.placed for each in plan.runs if each.code == last), None)
    if placed is None or not placed.why_here:
        return ""
    return f"{last} is at the end of the chain. {placed.why_here}" if links else placed.why_here


# An order line that is not served


def _first(plan: Plan, known: Rebuilt, missing: Unserved) -> Wait | None:
    """Who has what the line lacks, in the day before its dispatch."""
    if not is_scarce(missing.resource, missing.remedy):
        return None
    due_at = plan.week.get("order_lines", missing.line).dispatch_at
    runs = tuple(run.job for run in _users(plan, known, missing, known.frame.minute(due_at)))
    if not runs:
        return None
    has, have = _IN_ONE_OF_THEM[missing.resource]
    return Wait(
        run="",
        resource=missing.resource,
        code="",
        until_at=due_at,
        held_by=runs,
        sentence=f"{missing.line} is to leave on {clock_text(due_at, known.frame.zone)}; in the day before, "
        f"{_several(runs)} {has if len(runs) == 1 else have}.",
    )


_IN_ONE_OF_THEM = {
    POTS: ("is in a pot that suits it", "are in the pots that suit it"),
    COOKS: ("needs the hands", "need the hands"),
    HEAT: ("draws the heat", "draw the heat"),
    COOLING: ("is in the cooling", "are in the cooling"),
    TRAYS: ("has the cube trays", "have the cube trays"),
    STORAGE: ("fills the store", "fill the store"),
    ICE: ("has taken the ice", "have taken the ice"),
}


def _users(plan: Plan, known: Rebuilt, missing: Unserved, due_min: int) -> tuple[PlacedRun, ...]:
    """Runs that use the resource in the day before a minute, the one that keeps it longest first."""
    book = Book(known.problem, shape_of(known.problem, known.schedule.runs))
    jobs = {job.code: job for job in known.problem.jobs}
    end = min(due_min, known.problem.horizon_min) // book.step
    back = min(LOOK_BACK_H * 60 // book.step, end)
    found: dict[str, PlacedRun] = {}
    for code in _codes(plan, known, missing):
        # A vessel is asked about as one that a run would come into `back` steps earlier.
        by, start = (back, end) if missing.resource == POTS else (0, end - back)
        need = Need(missing.resource, code, 1, start, end, "")
        for run in users_of(book, need, by, jobs, known.schedule.runs):
            found.setdefault(run.job, run)
    return tuple(sorted(found.values(), key=lambda run: (-run.stages[-1].end_min, run.job)))


def _codes(plan: Plan, known: Rebuilt, missing: Unserved) -> Iterable[str]:
    """The things of the resource that the line could use."""
    problem = known.problem
    if missing.resource == POTS:
        formula = known.frame.formulas[known.frame.products[missing.product].formula]
        return [pot.code for pot in plan.week.pots if not pot.reduction_pan and pot_allowed(formula=formula, pot=pot)]
    if missing.resource == STORAGE:
        kind = known.frame.products[missing.product].storage
        return [store.code for store in plan.week.stores if store.kind == kind]
    several = {HEAT: problem.supplies_kw, COOLING: problem.devices, TRAYS: problem.trays}
    return [code for code, _ in several.get(missing.resource, (("", 0),))]
