"""A run for an order line in one kind of pot, filled with what else it can serve."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial

from production.domain.batches import Batch, Peg, Portion
from production.domain.demand import Need, first_cook_date
from production.domain.formula import HAIR_L, PotRange, least_reduction_l, pot_ranges
from production.domain.kitchen import Formula, Product, Week
from production.domain.plan.frame import Frame

Open = Mapping[int, int]  # containers still wanted, by the number of the need
_FILLS = 6  # first draws that are tried for a run that is made for its reduction (own choice)
_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PotKind:
    """Pots that make the same volumes of a formula; no more than can be cooled at once."""

    pots: frozenset[str]
    smallest_l: float
    largest_l: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A run and the containers that it takes off the needs, by their numbers."""

    batch: Batch
    taken: Mapping[int, int]


def kinds_for(frame: Frame, formula: Formula, limit_l: float) -> tuple[PotKind, ...]:
    """Kinds of pots for a formula, biggest first.

    Equation: pots with the same least and largest first draw; none whose least draw is too much to cool at once.
    Units: frame, formula (records), limit_l [L] that can be cooled at once; returns records with L.
    Valid: a week that passed its reader.
    Errors: UnknownParameter.
    Source: own definition.
    """
    ranges = partial(pot_ranges, week=frame.week, parameters=frame.parameters, formula=formula)
    alike: dict[tuple[float, float], list[PotRange]] = {}
    for each in frame.once(("ranges", formula.code), ranges):
        if each.smallest_l <= limit_l:
            alike.setdefault((each.smallest_l, each.largest_l), []).append(each)
    return tuple(
        PotKind(pots=frozenset(each.pot for each in members), smallest_l=smallest_l, largest_l=min(largest_l, limit_l))
        for (smallest_l, largest_l), members in sorted(alike.items(), key=lambda item: -item[0][1])
    )


def filled_for(
    frame: Frame, needs: Sequence[Need], left: Open, kind: PotKind, n: int, *, second: bool, fill_share: float = 1.0
) -> Filled | None:
    """The run of a kind of pot for need n and what goes with it; none where it would serve nothing of the need.

    Equation: the need first, then broth of the formula by dispatch that one day of cooking can serve with it, as long
        as there is room; up to the least fill with par levels, then with broth that nobody waits for. Drawn twice, the
        reduction goes to the needs for it by dispatch; a run for a reduction is drawn as large as that asks for.
    Units: frame, needs, kind (records), left [containers], n (number of the need), second (yes or no), fill_share
        [0..1] of the range of the pot that is used; returns a record with L.
    Valid: needs of the frame's week; only formulas with a second draw are drawn twice.
    Errors: UnknownParameter.
    Source: own definition.
    """
    return _Filling(frame, needs, left, kind, n, fill_share).run(second=second)


class _Filling:
    """What one run is filled from."""

    def __init__(
        self, frame: Frame, needs: Sequence[Need], left: Open, kind: PotKind, n: int, fill_share: float
    ) -> None:
        self.frame, self.needs, self.left, self.kind, self.n = frame, needs, left, kind, n
        self.formula = frame.formulas[frame.products[needs[n].product].formula]
        self.room_l = kind.smallest_l + fill_share * (kind.largest_l - kind.smallest_l)

    def run(self, *, second: bool) -> Filled | None:
        keepers = sorted(broths_of(self.frame, self.formula), key=lambda each: each.net_l)
        if not keepers:
            return None
        broth = self.for_one_day([m for m in self.wanted(broth=True) if not self.needs[m].is_wish])
        taken, litres = self.take(broth, self.room_l)
        reduced: dict[int, int] = {}
        first_l = self.whole(max(litres, self.kind.smallest_l), litres, keepers[0])
        if second:
            wanted = self.wanted(broth=False)
            if self.n in wanted:
                wanted = [self.n, *(m for m in wanted if m != self.n)]
                first_l = self.enough_for(first_l, litres, keepers[0])
            reduced, _ = self.take(wanted, self.gives_l(first_l))
        if self.n not in taken and self.n not in reduced:
            return None
        wishes = self.for_one_day(m for m in self.wanted(broth=True) if self.needs[m].is_wish)
        wished, _ = self.take([m for m in wishes if m != self.n], first_l - litres)
        for each in ({**taken, **wished}, taken):
            first = self.topped_up(list(self.portions(each)), keepers[0], first_l)
            if self.fits(sum(portion.litres for portion in first)):
                batch = Batch(
                    code=self.formula.code,
                    formula=self.formula.code,
                    first=tuple(first),
                    reduction=tuple(self.portions(reduced)),
                )
                return Filled(batch=batch, taken={**each, **reduced})
        return None

    def fits(self, first_l: float) -> bool:
        """Whether the pot may be filled so."""
        return self.kind.smallest_l - HAIR_L <= first_l <= self.kind.largest_l + HAIR_L

    def whole(self, first_l: float, litres: float, keeper: Product) -> float:
        """A first draw in whole containers: what the needs take, and no less than asked for unless the pot ends."""
        room = math.floor((self.kind.largest_l - litres) / keeper.net_l + HAIR_L)
        return litres + min(room, math.ceil((first_l - litres) / keeper.net_l - HAIR_L)) * keeper.net_l

    def wanted(self, *, broth: bool) -> list[int]:
        """Open needs of the formula, by dispatch, par levels last."""
        products = self.frame.products
        return [
            m
            for m, need in enumerate(self.needs)
            if self.left[m]
            and products[need.product].formula == self.formula.code
            and (products[need.product].kind == "broth") == broth
        ]

    def for_one_day(self, others: Iterable[int]) -> list[int]:
        """The needs that one day of cooking can serve together with this one, this one first."""
        own = self.needs[self.n]
        found = [self.n] if self.frame.products[own.product].kind == "broth" else []
        opens, latest = self.frame.local_date(own.dispatch_at), None
        if found:
            latest = self.first_day(own)
        for m in others:
            need = self.needs[m]
            leaves, first_day = min(opens, self.frame.local_date(need.dispatch_at)), self.first_day(need)
            newest = first_day if latest is None else max(latest, first_day)
            if m != self.n and newest <= leaves - _DAY:
                found.append(m)
                opens, latest = leaves, newest
        return found

    def first_day(self, need: Need) -> date:
        return first_cook_date(
            dispatch_on=self.frame.local_date(need.dispatch_at), product=self.frame.products[need.product]
        )

    def take(self, needs: Iterable[int], room_l: float) -> tuple[dict[int, int], float]:
        """Containers of the needs in their order as long as there is room, and their litres."""
        taken: dict[int, int] = {}
        litres = 0.0
        for m in needs:
            net_l = self.frame.products[self.needs[m].product].net_l
            containers = min(self.left[m], math.floor((room_l - litres) / net_l + HAIR_L))
            if containers > 0:
                taken[m] = containers
                litres += containers * net_l
        return taken, litres

    def gives_l(self, first_l: float) -> float:
        drawn_l = round(min(first_l, self.kind.largest_l), 6)
        work = partial(
            least_reduction_l,
            week=self.only_these_pots(),
            parameters=self.frame.parameters,
            formula=self.formula,
            drawn_l=drawn_l,
        )
        return self.frame.once(("gives", self.formula.code, self.kind, drawn_l), work)

    def only_these_pots(self) -> Week:
        """The week with one of each of the kind's pots: others may give less of a reduction, and are not asked."""
        week, pots, alike = self.frame.week, self.kind.pots, self.frame.kinds
        first = {alike[pot.code]: pot for pot in reversed(week.pots) if pot.code in pots}
        return self.frame.once(("only", pots), partial(replace, week, pots=tuple(first.values())))

    def enough_for(self, first_l: float, litres: float, keeper: Product) -> float:
        """The smallest of a few first draws whose bones give the reduction wanted, or as large as the pot makes."""
        wanted_l = self.left[self.n] * self.frame.products[self.needs[self.n].product].net_l
        for step in range(_FILLS):
            drawn_l = self.whole(first_l + (self.room_l - first_l) * step / _FILLS, litres, keeper)
            if self.gives_l(drawn_l) >= wanted_l:
                return drawn_l
        return self.whole(max(first_l, self.room_l), litres, keeper)

    def portions(self, taken: Mapping[int, int]) -> Iterator[Portion]:
        by_product: dict[str, list[Peg]] = {}
        for m, containers in taken.items():
            need = self.needs[m]
            peg = Peg(
                line=need.line,
                containers=containers,
                share=containers / need.of_containers,
                dispatch_at=need.dispatch_at,
                weight=need.weight,
            )
            by_product.setdefault(need.product, []).append(peg)
        for code, pegs in by_product.items():
            containers = sum(peg.containers for peg in pegs)
            litres = containers * self.frame.products[code].net_l
            yield Portion(product=code, containers=containers, litres=litres, pegs=tuple(pegs))

    def topped_up(self, first: list[Portion], keeper: Product, wanted_l: float) -> list[Portion]:
        """Filled up to the volume wanted in the smallest container of the broth."""
        short_l = wanted_l - sum(portion.litres for portion in first)
        if short_l <= HAIR_L:
            return first
        old = next((portion for portion in first if portion.product == keeper.code), None)
        containers = math.ceil(short_l / keeper.net_l - HAIR_L) + (old.containers if old else 0)
        new = Portion(
            product=keeper.code,
            containers=containers,
            litres=containers * keeper.net_l,
            pegs=old.pegs if old else (),
        )
        return [*(portion for portion in first if portion is not old), new]


def broths_of(frame: Frame, formula: Formula) -> list[Product]:
    """Products that a formula's first draw is filled into.

    Equation: products of the formula that are broths.
    Units: no quantities; frame, formula (records); returns records.
    Valid: any formula of the frame's week.
    Errors: none.
    Source: own definition.
    """
    return [each for each in frame.products.values() if each.formula == formula.code and each.kind == "broth"]
