"""What late and unserved orders of a plan wait for: as their reasons say, and along their critical chains."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol, TypeVar

from production.domain.kitchen import Formula, OrderLine
from production.domain.plan.content import Plan
from production.domain.plan.waits import Wait, waits_of_line, waits_of_run
from production.domain.schedule.book import COOKS, HOURS, ICE

CHAINS = 6  # late runs, and unserved lines, whose chains are followed (own choice)
DAYS_BEFORE = 2  # days before a dispatch on which more would help (own choice)
JUST_AFTER = timedelta(minutes=1)  # so that a shift that is waited for counts as one before


class _Coded(Protocol):
    @property
    def code(self) -> str: ...


_Entry = TypeVar("_Entry", bound=_Coded)


@dataclass(frozen=True, slots=True)
class Needs:
    """A plan, its lines in need, and what they and the runs before them wait for."""

    plan: Plan
    lines: tuple[OrderLine, ...]
    waits: tuple[Wait, ...]

    @property
    def resources(self) -> list[str]:
        """What is short: as the reasons say, then along the chains."""
        reasons = [*(each.resource for each in self.plan.unserved), *(each.resource for each in self.plan.late)]
        return [*reasons, *(wait.resource for wait in self.waits)]

    @property
    def days(self) -> tuple[datetime, ...]:
        """Ends of days in which more would help: before the dispatches in need, and when the chains are held up."""
        held_up = {wait.until_at + JUST_AFTER for wait in self.waits if wait.resource in (COOKS, HOURS, ICE)}
        before = {line.dispatch_at - timedelta(days=back) for line in self.lines for back in range(DAYS_BEFORE)}
        return tuple(sorted(end for end in held_up | before if end > self.plan.week.plan_from))

    @property
    def formulas(self) -> list[Formula]:
        """Formulas of the lines in need."""
        products = {product.code: product for product in self.plan.week.products}
        codes = dict.fromkeys(products[line.product].formula for line in self.lines)
        return [self.plan.week.get("formulas", code) for code in codes]

    def waited_for_first(self, resource: str, entries: Iterable[_Entry]) -> list[_Entry]:
        """Entries of a list of the week, those that are waited for along the chains first."""
        codes = [wait.code for wait in self.waits if wait.resource == resource]
        return sorted(entries, key=lambda each: codes.index(each.code) if each.code in codes else len(codes))

    def missing(self, resource: str, unit: str) -> list[float]:
        """How much of a resource the lines in need lack, by their reasons, the least first."""
        told = [(each.resource, each.unit, each.missing) for each in self.plan.unserved]
        told += [(each.resource, each.unit, each.missing) for each in self.plan.late]
        return sorted({missing for name, of, missing in told if (name, of) == (resource, unit) and missing > 0})


def needs_of(plan: Plan) -> Needs:
    """The lines of a plan that are late or unserved, and what they wait for.

    Equation: the chains of the runs that are most late and of unserved lines, their nearest links first.
    Units: plan (record); returns a record.
    Valid: any plan; one without late or unserved lines needs nothing.
    Errors: none.
    Source: own definition.
    """
    codes = {each.line for each in plan.unserved} | {each.line for each in plan.late}
    lines = tuple(line for line in plan.week.order_lines if line.code in codes)
    return Needs(plan, lines, _waits(plan) if lines else ())


def _waits(plan: Plan) -> tuple[Wait, ...]:
    late_h: dict[str, float] = {}
    for each in plan.late:
        behind_h = (each.ready_at - each.due_at) / timedelta(hours=1)
        late_h[each.run] = max(behind_h, late_h.get(each.run, 0.0))
    runs = sorted(late_h, key=lambda run: (-late_h[run], run))[:CHAINS]
    lines = list(dict.fromkeys(each.line for each in plan.unserved))[:CHAINS]
    chains = [*(waits_of_line(plan, line) for line in lines), *(waits_of_run(plan, run) for run in runs)]
    links = itertools.chain.from_iterable(itertools.zip_longest(*(chain.links for chain in chains)))
    return tuple(link for link in links if link is not None)
