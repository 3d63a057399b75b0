"""What is different between two plans of a week, in sentences."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from production.domain.plan.clock import clock_text, move_text, spell_text
from production.domain.plan.content import Plan, PlannedRun
from production.domain.quantities import rounded_text

SIMMERS = ("simmer", "second_simmer")
_RANKS = (
    "line-lost",
    "line-later",
    "line-served",
    "line-earlier",
    "run-gone",
    "run-new",
    "run-pot",
    "run-size",
    "run-moved",
    "run-simmer",
    "purchase",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is different."""

    kind: str  # one of the ranks above
    subject: str  # code of the line, the run or the ingredient
    sentence: str
    amount: float  # how much of it: containers, minutes, litres or kg


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """A plan in a few numbers."""

    runs: int
    lateness_h: float  # weighted
    late_lines: int
    unserved_lines: int
    unserved_containers: int
    purchases: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Everything that is different, the most important first."""

    changes: tuple[Change, ...]
    before: Totals
    after: Totals
    kept_runs: int  # stay in their pot at their start
    moved_runs: int
    sentence: str


def compare_plans(before: Plan, after: Plan) -> Difference:
    """What the second plan does otherwise than the first, run by run, line by line, and in purchases.

    Equation: runs are the same where code and formula are; lines where the code is. Changes are sorted by what they
        touch (lines, then runs, then purchases) and then by how much.
    Units: before, after (records); amounts in containers, min, L or kg.
    Valid: two plans of one kitchen's week.
    Errors: none.
    Source: own definition.
    """
    runs = _shared_runs(before, after)
    changes = [
        *_line_changes(before, after),
        *_run_changes(before, after),
        *_purchase_changes(before, after),
    ]
    moved = sum(_is_moved(first, second) for first, second in runs)
    first, second = _totals(before), _totals(after)
    return Difference(
        changes=tuple(sorted(changes, key=lambda each: (_RANKS.index(each.kind), -each.amount, each.subject))),
        before=first,
        after=second,
        kept_runs=len(runs) - moved,
        moved_runs=moved,
        sentence=_summary(first, second, len(runs), moved),
    )


def _totals(plan: Plan) -> Totals:
    return Totals(
        runs=len(plan.runs),
        lateness_h=plan.schedule.lateness_h,
        late_lines=len({late.line for late in plan.late}),
        unserved_lines=len({each.line for each in plan.unserved}),
        unserved_containers=sum(each.containers for each in plan.unserved),
        purchases=plan.purchases.total,
    )


def _summary(before: Totals, after: Totals, shared: int, moved: int) -> str:
    words = ["Every run stays where it was." if not moved else f"{moved} of {shared} runs move."]
    if before.runs != after.runs:
        words.append(f"{after.runs} runs instead of {before.runs}.")
    if before.late_lines != after.late_lines:
        words.append(f"{_lines(after.late_lines)} late instead of {before.late_lines}.")
    if before.unserved_lines != after.unserved_lines:
        words.append(f"{_lines(after.unserved_lines)} not served in full instead of {before.unserved_lines}.")
    return " ".join(words)


def _lines(count: int) -> str:
    return f"{count} order line{'' if count == 1 else 's'}"


# Lines


def _line_changes(before: Plan, after: Plan) -> Iterable[Change]:
    named = {line.code: line for plan in (before, after) for line in plan.week.order_lines}
    lost = _missing(before), _missing(after)
    late = _late_min(before), _late_min(after)
    still = {line.code for line in after.week.order_lines}
    for code, line in named.items():
        what = f"{code} ({line.containers} × {after.week.get('products', line.product).name})"
        more = lost[1][code] - lost[0][code]
        if more > 0:
            sentence = f"{what}: {more} containers that were planned can no longer be served."
            yield Change(kind="line-lost", subject=code, sentence=sentence, amount=more)
        elif more < 0 and code in still:
            sentence = f"{what}: {-more} containers more are served."
            yield Change(kind="line-served", subject=code, sentence=sentence, amount=-more)
        later = late[1].get(code, 0) - late[0].get(code, 0)
        if later and code in still:
            yield _lateness_change(code, what, later, late[1].get(code, 0))


def _lateness_change(code: str, what: str, later: int, late_min: int) -> Change:
    kind, word = ("line-later", "later") if later > 0 else ("line-earlier", "earlier")
    now = f"{spell_text(late_min)} after its dispatch" if late_min else "on time"
    sentence = f"{what} is ready {spell_text(abs(later))} {word} than planned: {now}."
    return Change(kind=kind, subject=code, sentence=sentence, amount=abs(later))


def _missing(plan: Plan) -> Counter[str]:
    missing: Counter[str] = Counter()
    for each in plan.unserved:
        missing[each.line] += each.containers
    return missing


def _late_min(plan: Plan) -> dict[str, int]:
    late: dict[str, int] = {}
    for each in plan.late:
        minutes = int((each.ready_at - each.due_at) / timedelta(minutes=1))
        late[each.line] = max(minutes, late.get(each.line, 0))
    return late


# Runs


def _shared_runs(before: Plan, after: Plan) -> list[tuple[PlannedRun, PlannedRun]]:
    first = {(run.code, run.formula): run for run in before.runs}
    return [(first[run.code, run.formula], run) for run in after.runs if (run.code, run.formula) in first]


def _is_moved(first: PlannedRun, second: PlannedRun) -> bool:
    return (first.start_at, first.pot) != (second.start_at, second.pot)


def _run_changes(before: Plan, after: Plan) -> Iterable[Change]:
    shared = _shared_runs(before, after)
    zone = ZoneInfo(after.week.kitchen.time_zone)
    codes = {second.code for _, second in shared}
    for run in before.runs:
        if run.code not in codes:
            sentence = f"{_named(before, run)} in {_pot(before, run)} at {clock_text(run.start_at, zone)} is gone."
            yield Change(kind="run-gone", subject=run.code, sentence=sentence, amount=run.batch.first_l)
    for run in after.runs:
        if run.code not in codes:
            litres = rounded_text(run.batch.first_l, "0.1")
            where = f"in {_pot(after, run)} at {clock_text(run.start_at, zone)}"
            sentence = f"{_named(after, run)} is new: {litres} L {where}."
            yield Change(kind="run-new", subject=run.code, sentence=sentence, amount=run.batch.first_l)
    for first, second in shared:
        yield from _shared_changes(before, after, first, second)


def _shared_changes(before: Plan, after: Plan, first: PlannedRun, second: PlannedRun) -> Iterable[Change]:
    code = second.code
    if _is_moved(first, second):
        yield _move_change(before, after, first, second)
    if abs(second.batch.first_l - first.batch.first_l) > 0.05:
        litres = rounded_text(second.batch.first_l, "0.1"), rounded_text(first.batch.first_l, "0.1")
        sentence = f"{code} makes {litres[0]} L instead of {litres[1]} L."
        yield Change(
            kind="run-size", subject=code, sentence=sentence, amount=abs(second.batch.first_l - first.batch.first_l)
        )
    longer = _simmer_min(second) - _simmer_min(first)
    if longer:
        word = "longer" if longer > 0 else "less"
        sentence = f"{code} simmers {spell_text(abs(longer))} {word}."
        yield Change(kind="run-simmer", subject=code, sentence=sentence, amount=abs(longer))


def _move_change(before: Plan, after: Plan, first: PlannedRun, second: PlannedRun) -> Change:
    moves = []
    if first.start_at != second.start_at:
        moves.append(move_text(first.start_at, second.start_at, ZoneInfo(after.week.kitchen.time_zone)))
    if first.pot != second.pot:
        moves.append(f"from {_pot(before, first)} to {_pot(after, second)}")
    return Change(
        kind="run-moved" if first.pot == second.pot else "run-pot",
        subject=second.code,
        sentence=f"{second.code} moves {' and '.join(moves)}.",
        amount=abs((second.start_at - first.start_at) / timedelta(minutes=1)),
    )


def _simmer_min(run: PlannedRun) -> int:
    return sum(stage.end_min - stage.start_min for stage in run.placed.stages if stage.name in SIMMERS)


def _pot(plan: Plan, run: PlannedRun) -> str:
    name: str = plan.week.get("pots", run.pot).name
    return name


def _named(plan: Plan, run: PlannedRun) -> str:
    return f"{run.code} ({plan.week.get('formulas', run.formula).name})"


# Purchases


def _purchase_changes(before: Plan, after: Plan) -> Iterable[Change]:
    """Packs of an ingredient that are bought more or less; what should have been ordered by now is said so."""
    bought, past = _bought(before), _ordered_kg(before, after)
    wanted = _bought(after)
    for ingredient in sorted(bought.keys() | wanted.keys()):
        more_kg = wanted[ingredient] - bought[ingredient]
        if abs(more_kg) < 1e-6:
            continue
        name = after.week.get("ingredients", ingredient).name
        sentence = f"{rounded_text(abs(more_kg), '0.1')} kg {'more' if more_kg > 0 else 'less'} of {name} to buy."
        if more_kg < 0 and past[ingredient] > wanted[ingredient] + 1e-6:
            over = rounded_text(past[ingredient] - wanted[ingredient], "0.1")
            sentence += f" {over} kg too much may be on the way already: call the supplier."
        yield Change(kind="purchase", subject=ingredient, sentence=sentence, amount=abs(more_kg))


def _bought(plan: Plan) -> defaultdict[str, float]:
    masses: defaultdict[str, float] = defaultdict(float)
    for order in plan.purchases.orders:
        for item in order.items:
            masses[item.ingredient] += item.mass_kg
    return masses


def _ordered_kg(before: Plan, after: Plan) -> defaultdict[str, float]:
    """What the first plan had to order before the second was made."""
    masses: defaultdict[str, float] = defaultdict(float)
    for order in before.purchases.orders:
        if order.order_by <= after.week.plan_from:
            for item in order.items:
                masses[item.ingredient] += item.mass_kg
    return masses
