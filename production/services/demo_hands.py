"""The hands of a demo kitchen: what they do is recorded through the door of the floor, in simulated time.

Each hand is a generator that yields the moment of its next deed; whoever comes first is served first, so that the
book is written in the order in which things happen.
"""

from __future__ import annotations

import heapq
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count, pairwise
from math import exp
from random import Random
from typing import Any

from production.domain.errors import PotwrightError
from production.domain.plan import Plan, PlannedRun
from production.domain.records.course_basis import REDUCE
from production.domain.records.course_content import Field, Step
from production.domain.sheets import CoolingLog
from production.models import Membership, PlanningWeek
from production.services.floor import floor_take
from production.services.floor_answers import Answer

Hand = Iterator[datetime]
COOLANT_C = 1.5  # ice water or the air of a chiller, at the end (own choice)
STALL_C = 38.0  # water whose ice is gone, with hot vessels in it (own choice)
WEIGHS_AGAIN = 0.4  # how often an addition is weighed and not only ticked off
TO_TYPE = timedelta(seconds=40)  # between doing something and writing it down
DECIMALS = {"kg": 2, "L": 1, "degC": 1, "Bx": 1, "mm": 0, "pieces": 0}
UNITS = {"kg": " kg", "L": " L", "degC": " C", "mm": " mm"}
SPREAD = {"kg": 0.015, "L": 0.02, "Bx": 0.03}  # by how much a hand differs from its sheet


@dataclass
class DemoKitchen:
    """People, plan and chance; the same seed cooks the same week."""

    plan: Plan
    week: PlanningWeek
    cook: Membership
    manager: Membership
    chance: Random
    thermometers: tuple[str, ...] = ()
    _keys: Iterator[int] = field(default_factory=lambda: count(1))
    _waiting: list[tuple[datetime, int, Hand]] = field(default_factory=list)

    def begin(self, hand: Hand) -> None:
        """One more thing that goes on."""
        at = next(hand, None)
        if at is not None:
            heapq.heappush(self._waiting, (at, next(self._keys), hand))

    def go_on(self, *, until: datetime) -> None:
        """Let everything happen that happens until then."""
        while self._waiting and self._waiting[0][0] <= until:
            self.begin(heapq.heappop(self._waiting)[2])

    def key(self) -> str:
        """A key that no other record has."""
        return f"demo/{self.week.starts_on}/{next(self._keys)}"

    def record(
        self,
        at: datetime,
        kind: str,
        subject: str,
        content: Mapping[str, Any],
        *,
        by: Membership | None = None,
        corrects: str = "",
        reason: str = "",
        may_be_refused: str = "",
    ) -> Answer:
        """Somebody records something on a tablet, a moment after it was done."""
        entry = {
            "key": self.key(),
            "kind": kind,
            "subject": subject,
            "content": dict(content),
            "happened_at": at.isoformat(),
            "corrects": corrects or None,
            "reason": reason,
        }
        answer = floor_take(by=by or self.cook, body={"entries": [entry]}, now=at + TO_TYPE).answers[0]
        if answer.outcome == "refused" and answer.code != may_be_refused:
            raise PotwrightError(
                f"The demo kitchen could not record {kind} of {subject}: {answer.sentence}",
                code="demo-refused",
                remedy=answer.remedy,
            )
        return answer


def typed_by_hand(step: Step, run: PlannedRun, share_done: float, chance: Random) -> dict[str, Any]:
    """What a hand types into the boxes of a step: near what the sheet says, never exactly that."""
    content: dict[str, Any] = {"step": step.code}
    if step.code == REDUCE and run.charge.reduction is not None:
        start_kg, end_kg = run.charge.reduction.liquor.mass_kg, run.charge.reduction.mass_kg
        left_kg = start_kg + (end_kg - start_kg) * share_done
        return content | {"mass": f"{chance.gauss(left_kg, 0.01 * left_kg):.2f} kg"}
    way = step.ways[-1] if step.kind == "drawn" else step.ways[0] if step.ways else ()
    names = {*way, "brix"} if step.kind == "reduction_checked" else {*way}
    if step.kind == "addition_made" and chance.random() < WEIGHS_AGAIN:
        names = {"mass"}
    for box in step.fields:
        if box.name in names and box.expected is not None:
            content[box.name] = _typed(box, chance)
    return content


def _typed(box: Field, chance: Random) -> str | int:
    expected = box.expected or 0.0
    if box.unit == "pieces":
        return int(expected)
    if box.unit == "degC":
        value = _warm(box, expected, chance)
    else:
        value = chance.gauss(expected, SPREAD.get(box.unit, 0.0) * expected)
    return f"{value:.{DECIMALS[box.unit]}f}{UNITS.get(box.unit, '')}"


def _warm(box: Field, expected: float, chance: Random) -> float:
    """A temperature that is held: well above what is asked for at least, never above the boil."""
    if box.low is not None and box.low >= expected:
        return expected + 12.0 + chance.uniform(0.0, 6.0)
    highest = expected + 1.0 if box.high is None else box.high - 1.6
    return min(chance.gauss(expected, 0.6), highest)


@dataclass(frozen=True, slots=True)
class CoolingTruth:
    """How a group really cools: the curve of its log, faster or slower, with its ice forgotten or not."""

    minutes: tuple[float, ...]
    temps_c: tuple[float, ...]
    pace: float
    forgotten_min: float = 0.0  # until then the water is as warm as STALL_C, once the food has come down to it

    @classmethod
    def of(cls, log: CoolingLog, *, pace: float, forgotten_min: float = 0.0) -> CoolingTruth:
        """By the curve that the plan expects."""
        points = log.expected
        return cls(tuple(p.minute for p in points), tuple(p.temp_c for p in points), pace, forgotten_min)

    def temp_c(self, minute: float) -> float:
        """The temperature so many minutes after pouring."""
        return self._on_curve(self._run_min(minute))

    def _run_min(self, minute: float) -> float:
        """Minutes along the curve; while the ice is gone the food stays where the water is."""
        run_min = self.pace * minute
        stalls_at = self._stalls_at()
        if not self.forgotten_min or run_min <= stalls_at:
            return run_min
        return stalls_at + self.pace * max(0.0, minute - max(self.forgotten_min, stalls_at / self.pace))

    def _stalls_at(self) -> float:
        """Where the curve passes the temperature of water without ice."""
        points = list(zip(self.minutes, self.temps_c, strict=True))
        for (m0, c0), (m1, c1) in pairwise(points):
            if c1 <= STALL_C < c0:
                return m0 + (m1 - m0) * (c0 - STALL_C) / (c0 - c1)
        return self.minutes[-1]

    def _on_curve(self, run_min: float) -> float:
        at = bisect_right(self.minutes, run_min)
        if at >= len(self.minutes):
            return self._beyond(run_min)
        if at == 0:
            return self.temps_c[0]
        t0, t1 = self.minutes[at - 1], self.minutes[at]
        share = (run_min - t0) / (t1 - t0)
        return self.temps_c[at - 1] + share * (self.temps_c[at] - self.temps_c[at - 1])

    def _beyond(self, run_min: float) -> float:
        """The curve of the log ends where its last limit is met; what cools goes on towards what cools it."""
        over_c = self.temps_c[-1] - COOLANT_C
        slope = (self.temps_c[-2] - self.temps_c[-1]) / (self.minutes[-1] - self.minutes[-2])
        return COOLANT_C + over_c * exp(-slope / over_c * (run_min - self.minutes[-1]))
