"""What stands in the stores: who gets which lot, what room is taken in the days ahead, and what must be frozen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from production.domain.cooling_capacity.freezing import FREEZE_TO_C
from production.domain.demand import last_dispatch_date
from production.domain.thermal.storage import freeze_load_kj_kg, freeze_power_time_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Containers of a lot that are there, or will be there from a day on."""

    lot: str
    product: str
    store: str
    containers: int
    made_on: date
    use_by: date
    there_on: date | None = None  # None: it is there already


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What an order line still asks for."""

    line: str
    product: str
    containers: int
    dispatch_at: datetime
    day: date  # of dispatch, in the kitchen's time zone
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """Containers of a lot for an order line."""

    line: str
    lot: str
    store: str
    containers: int
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """Who gets what, what is missing, and what is left."""

    picks: tuple[Pick, ...]
    short: Mapping[str, int]  # line -> containers that no lot can serve
    left: Mapping[str, int]  # lot -> containers that nobody waits for


def pick_lots(*, lots: Sequence[Standing], wanted: Sequence[Wanted], life_at_dispatch: Mapping[str, int]) -> Picks:
    """Give lots to order lines, first expired first out, each with the life it must still have when it leaves.

    Equation: lines by dispatch time, then weight, then code; each takes from the lots of its product that are there and
        may still leave on its day, earliest use-by first.
    Units: lots, wanted (records; containers are counts), life_at_dispatch [day] by product; returns counts.
    Valid: free lots only; the caller leaves out what is held or discarded.
    Errors: none.
    Source: first expired first out is common practice, no source.
    """
    left = {lot.lot: lot.containers for lot in lots}
    order = sorted(lots, key=lambda lot: (lot.use_by, lot.made_on, lot.lot))
    picks: list[Pick] = []
    short: dict[str, int] = {}
    for line in sorted(wanted, key=lambda line: (line.dispatch_at, -line.weight, line.line)):
        missing = line.containers
        for lot in order:
            if not missing or not left[lot.lot] or not _may_leave(lot, line, life_at_dispatch):
                continue
            taken = min(missing, left[lot.lot])
            left[lot.lot] -= taken
            missing -= taken
            picks.append(Pick(line=line.line, lot=lot.lot, store=lot.store, containers=taken, day=line.day))
        if missing:
            short[line.line] = missing
    return Picks(picks=tuple(picks), short=short, left=left)


def _may_leave(lot: Standing, line: Wanted, life_at_dispatch: Mapping[str, int]) -> bool:
    if lot.product != line.product or (lot.there_on is not None and lot.there_on > line.day):
        return False
    return line.day <= last_dispatch_date(use_by=lot.use_by, life_at_dispatch_days=life_at_dispatch.get(lot.product, 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomDay:
    """Litres that a store needs on a day, at the fullest."""

    day: date
    litres: float


def room_ahead(
    *, first_day: date, days: int, standing: Iterable[tuple[Standing, float]], picks: Iterable[Pick]
) -> Mapping[str, tuple[RoomDay, ...]]:
    """Room taken in each store, day by day, at its fullest: what comes on a day is in before what leaves has left.

    Equation: for each day the sum over lots there by then of containers not yet gone the day before, times room of one.
    Units: first_day [calendar day], days (count), standing (records; litres of one container [L]), picks (records);
        returns [L] by store.
    Valid: lots stay until they are dispatched or discarded, past their use-by too.
    Errors: none.
    Source: own definition.
    """
    gone: dict[tuple[str, date], int] = {}
    for pick in picks:
        gone[pick.lot, pick.day] = gone.get((pick.lot, pick.day), 0) + pick.containers
    calendar = [first_day + timedelta(days=n) for n in range(days)]
    found: dict[str, dict[date, float]] = {}
    for lot, one_l in standing:
        row = found.setdefault(lot.store, dict.fromkeys(calendar, 0.0))
        for day in calendar:
            if lot.there_on is not None and lot.there_on > day:
                continue
            left = lot.containers - sum(n for (code, left_on), n in gone.items() if code == lot.lot and left_on < day)
            row[day] += max(0, left) * one_l
    return {
        store: tuple(RoomDay(day=day, litres=litres) for day, litres in row.items()) for store, row in found.items()
    }


def freezing_hours(*, mass_kg: float, solids_percent: float, spare_kw: float) -> float:
    """Hours for which a freezer needs all its spare power for what goes in on one day.

    Equation: mass x heat from 5 to -18 degC / spare power.
    Units: mass_kg [kg], solids_percent [%], spare_kw [kW]; returns [h].
    Valid: product cooled to 5 degC before it goes in; power is the limit, not conduction. 24 h and more is too much.
    Errors: OutOfRange for absurd masses or powers.
    Source: energy balance; heat of Chen 1985, from memory.
    """
    solids = solids_percent / 100.0
    freezing_c = -0.5 if solids_percent < 10.0 else -4.0  # as in cooling_capacity.freezing
    load = freeze_load_kj_kg(
        from_c=5.0, to_c=FREEZE_TO_C, water_share=1.0 - solids, protein_share=solids, freezing_c=freezing_c
    )
    return freeze_power_time_h(mass_kg=mass_kg, load_kj_kg=load, power_kw=spare_kw)
