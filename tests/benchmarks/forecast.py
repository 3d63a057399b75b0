"""How honest the cooling forecast is: `python -m tests.benchmarks.forecast --help`.

Coolings are made up by integrating dT/dt = -k (T - Ts) step by step (Runge-Kutta of fourth order), with what happens
in a kitchen on the way; nothing here is taken from the program. After every reading from the third on, as long as the
readings have not reached 21.1 degC, the forecast of that moment is compared with the true time. Beside it stands what
a person with a ruler would say: a straight line through the last two readings on a logarithmic scale.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.records.fitting import Place, surroundings_of
from production.domain.records.forecast import forecast_cooling

TARGET_C = 21.1
LEAST_READINGS = 3
WANTED = (0.87, 0.93)
WANTED_MS = 5.0
LONGEST_MIN = 48 * 60
STEP_MIN = 0.5
CHANGES = ("ice gone", "sets", "moved", "stirring")
BEYOND = ("two changes", "still air")  # outside what the forecast takes as given

# Place: hourly rate from, to; true temperature minus the told one from, to.
_PLACES: dict[Place, tuple[float, float, float, float]] = {
    "ice_sink": (0.7, 4.0, -1.0, 2.0),
    "blast_chiller": (0.6, 2.5, -2.0, 2.0),
    "cold_room": (0.25, 1.2, -1.0, 2.0),
}
_TOLD_C: dict[Place, tuple[float, ...]] = {
    "ice_sink": (1.0,),
    "blast_chiller": (-5.0, -2.0, 0.0, 2.0),
    "cold_room": (2.0, 3.3, 4.0),
}


@dataclass(slots=True)
class World:
    """What the food stands in, minute by minute; changes when the food passes some temperature."""

    rate_per_h: float
    sink_c: float
    bends: float = 0.0  # rate ~ (T - Ts) to this power, as in still air
    goes_to_c: float | None = None
    within_min: float = 0.0

    def slope(self, temp_c: float) -> float:
        over = temp_c - self.sink_c
        return float(-self.rate_per_h / 60.0 * over * (max(over, 0.0) / 40.0) ** self.bends)

    def pass_time(self) -> None:
        if self.goes_to_c is not None and self.within_min:
            self.sink_c += (self.goes_to_c - self.sink_c) * (1.0 - math.exp(-STEP_MIN / self.within_min))


@dataclass(frozen=True, slots=True)
class Cooling:
    """One made-up cooling with its readings."""

    place: Place
    told_c: float
    happened: str
    changed_min: float  # the last time that something changed; infinity where nothing did
    true_min: float
    minutes: tuple[float, ...]
    temps_c: tuple[float, ...]

    def moments(self) -> Iterator[int]:
        """How many readings there are at each moment that counts."""
        for count, temp in enumerate(self.temps_c, 1):
            if temp <= TARGET_C:
                return
            if count >= LEAST_READINGS:
                yield count


Noise = Callable[[random.Random], float]
NOISES: dict[str, Noise] = {
    "uniform": lambda chance: chance.uniform(-0.5, 0.5),
    "normal": lambda chance: chance.gauss(0.0, 0.5),
}


def made_up(chance: random.Random, noise: Noise, *, happens: str | None = None) -> Cooling:
    """A cooling; two in ten change on the way, unless it is said what happens."""
    if happens is None:
        happens = chance.choice(CHANGES) if chance.random() < 0.2 else ""
    while True:
        place = chance.choice(tuple(_PLACES))
        told = chance.choice(_TOLD_C[place])
        slow, fast, colder, warmer = _PLACES[place]
        rate = math.exp(chance.uniform(math.log(slow), math.log(fast)))
        world = World(rate, told + chance.uniform(colder, warmer), bends=0.25 if happens == "still air" else 0.0)
        curve, changed_min = _curve(chance, world, happens)
        true_min = _passing_min(curve)
        if true_min is not None:
            minutes = tuple(_reading_times(chance, true_min))
            temps = tuple(round(_at(curve, each) + noise(chance), 1) for each in minutes)
            return Cooling(place, told, happens, changed_min, true_min, minutes, temps)


def _curve(chance: random.Random, world: World, happens: str) -> tuple[list[float], float]:
    """Temperatures step by step, and when the last change came."""
    temp = chance.uniform(60.0, 95.0)
    changes = {"": [], "still air": [], "two changes": ["moved", "stirring"]}.get(happens, [happens])
    turns = sorted(((chance.uniform(15.0, temp), each) for each in changes), reverse=True)
    if happens == "sets":
        turns = [(chance.uniform(16.0, 27.0), "sets")]
    curve, changed_min = [temp], math.inf
    while len(curve) * STEP_MIN < LONGEST_MIN and temp > TARGET_C - 6.0:
        while turns and temp <= turns[0][0]:
            _change(chance, world, turns.pop(0)[1])
            changed_min = math.inf if turns else STEP_MIN * (len(curve) - 1)
        temp = _step(world, temp)
        world.pass_time()
        curve.append(temp)
    return curve, changed_min


def _change(chance: random.Random, world: World, what: str) -> None:
    if what == "ice gone":
        world.goes_to_c, world.within_min = chance.uniform(8.0, 18.0), chance.uniform(3.0, 40.0)
    elif what == "sets":
        world.rate_per_h *= chance.uniform(0.25, 0.6)
    elif what == "moved":
        world.sink_c, world.rate_per_h = chance.uniform(-5.0, 10.0), world.rate_per_h * chance.uniform(0.35, 2.5)
    else:
        world.rate_per_h *= chance.choice((chance.uniform(0.4, 0.75), chance.uniform(1.3, 2.2)))


def _step(world: World, temp: float) -> float:
    first = world.slope(temp)
    second = world.slope(temp + STEP_MIN / 2.0 * first)
    third = world.slope(temp + STEP_MIN / 2.0 * second)
    fourth = world.slope(temp + STEP_MIN * third)
    return temp + STEP_MIN / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)


def _passing_min(curve: Sequence[float]) -> float | None:
    for number, (before, after) in enumerate(pairwise(curve)):
        if after <= TARGET_C < before:
            return STEP_MIN * (number + (before - TARGET_C) / (before - after))
    return None


def _at(curve: Sequence[float], minute: float) -> float:
    place = min(int(minute / STEP_MIN), len(curve) - 2)
    share = minute / STEP_MIN - place
    return curve[place] + share * (curve[place + 1] - curve[place])


def _reading_times(chance: random.Random, until_min: float) -> Iterator[float]:
    every = chance.choice((4.0, 8.0, 12.0, 20.0, 30.0))
    minute = chance.uniform(0.0, 8.0)
    while minute < until_min + every:
        yield minute
        minute += every * chance.uniform(0.4, 1.6)


@dataclass(frozen=True, slots=True)
class Judged:
    """One forecast against the truth; minutes."""

    readings: int
    readings_since: int  # the last change
    happened: str
    true_min: float
    low_min: float
    middle_min: float
    high_min: float
    naive_min: float
    left_min: float

    @property
    def holds(self) -> bool:
        return self.low_min <= self.true_min <= self.high_min


def judge(cooling: Cooling) -> Iterator[Judged]:
    """Every moment of a cooling that counts."""
    known = surroundings_of(place=cooling.place, parameters=DEFAULT_PARAMETERS, air_c=cooling.told_c)
    for count in cooling.moments():
        minutes, temps = cooling.minutes[:count], cooling.temps_c[:count]
        told = forecast_cooling(minutes=minutes, temps_c=temps, surroundings=known, targets_c=(TARGET_C,))
        when = told.reaches[0].minutes
        naive = by_ruler(minutes, temps, cooling.told_c)
        left = cooling.true_min - minutes[-1]
        since = sum(each > cooling.changed_min for each in minutes)
        yield Judged(count, since, cooling.happened, cooling.true_min, when.low, when.middle, when.high, naive, left)


def by_ruler(minutes: Sequence[float], temps_c: Sequence[float], sink_c: float) -> float:
    """The last two readings, a straight line on a logarithmic scale; never where it does not fall."""
    before, now = temps_c[-2] - sink_c, temps_c[-1] - sink_c
    if not 0.0 < now < before:
        return math.inf
    return minutes[-1] + math.log(now / (TARGET_C - sink_c)) / math.log(before / now) * (minutes[-1] - minutes[-2])


def coverage(judged: Iterable[Judged]) -> float:
    """Share of the intervals that hold the truth."""
    return fmean(each.holds for each in judged)


def table(judged: Sequence[Judged]) -> str:
    """Coverage and width by number of readings and by what happened."""
    groups: list[tuple[str, Callable[[Judged], bool]]] = [
        ("all from 3 readings on", lambda each: True),
        *((f"{count} readings", lambda each, count=count: each.readings == count) for count in (3, 4, 5, 6)),
        ("7 to 10 readings", lambda each: 7 <= each.readings <= 10),
        ("11 to 20 readings", lambda each: 11 <= each.readings <= 20),
        ("more than 20 readings", lambda each: each.readings > 20),
        *((kind or "no change", lambda each, kind=kind: each.happened == kind) for kind in ("", *CHANGES)),
        ("changed, at least 3 readings since", lambda each: each.readings_since >= 3),
    ]
    lines = [
        "| | forecasts | holds | truth earlier | later | mean width min | width / time left | error min | by ruler |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for name, belongs in groups:
        rows = [each for each in judged if belongs(each)]
        if rows:
            lines.append(f"| {name} | " + " | ".join(_figures(rows)) + " |")
    return "\n".join(lines)


def _figures(rows: Sequence[Judged]) -> list[str]:
    widths = [min(each.high_min, LONGEST_MIN) - min(each.low_min, LONGEST_MIN) for each in rows]
    ours = median(abs(each.middle_min - each.true_min) for each in rows)
    ruler = median(abs(each.naive_min - each.true_min) for each in rows)
    return [
        str(len(rows)),
        f"{coverage(rows):.3f}",
        f"{fmean(each.true_min < each.low_min for each in rows):.3f}",
        f"{fmean(each.true_min > each.high_min for each in rows):.3f}",
        f"{fmean(widths):.0f}",
        f"{median(wide / max(each.left_min, 1.0) for wide, each in zip(widths, rows, strict=True)):.2f}",
        f"{ours:.1f}",
        f"{ruler:.1f}",
    ]


def milliseconds(readings: int = 2400, repeats: int = 60) -> float:
    """Median time on the processor of one forecast of a container with so many readings, one a minute."""
    chance = random.Random(24)
    minutes = [float(each) for each in range(readings)]
    temps = [2.0 + 75.0 * math.exp(-each / 700.0) + chance.gauss(0.0, 0.5) for each in minutes]
    known = surroundings_of(place="cold_room", parameters=DEFAULT_PARAMETERS, air_c=2.0)
    spent = []
    for _ in range(repeats):
        begun = time.process_time()
        forecast_cooling(minutes=minutes, temps_c=temps, surroundings=known, targets_c=(TARGET_C, 5.0, 3.0))
        spent.append(time.process_time() - begun)
    return 1000.0 * median(spent)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Measure the cooling forecast on made-up coolings.")
    parser.add_argument("--coolings", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args(arguments)
    say = sys.stdout.write
    for name, noise in NOISES.items():
        chance = random.Random(asked.seed)
        judged = [row for _ in range(asked.coolings) for row in judge(made_up(chance, noise))]
        held = coverage(judged)
        verdict = "reached" if WANTED[0] <= held <= WANTED[1] else "NOT reached"
        say(f"{asked.coolings} coolings, noise {name} +-0.5 K\n{table(judged)}\n")
        say(f"90 % interval holds {held:.1%}, wanted {WANTED[0]:.0%} to {WANTED[1]:.0%}: {verdict}\n\n")
        for beyond in BEYOND:
            rows = [row for _ in range(asked.coolings // 5) for row in judge(made_up(chance, noise, happens=beyond))]
            say(f"outside what is taken as given, {beyond}: holds {coverage(rows):.1%} of {len(rows)}")
            after = [each for each in rows if each.readings_since >= 3]
            say(f", {coverage(after):.1%} of {len(after)} from 3 readings after the last\n" if after else "\n")
        say("\n")
    spent = milliseconds()
    say(f"{spent:.2f} ms for 2,400 readings, wanted less than {WANTED_MS:g}: ")
    say("reached\n" if spent < WANTED_MS else "NOT reached\n")


if __name__ == "__main__":
    main()
