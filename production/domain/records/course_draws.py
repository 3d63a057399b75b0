"""Draws as they were weighed or measured: what they hold, what they fill, and which orders fall short."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from production.domain.batches import Portion
from production.domain.demand import PAR_PREFIX
from production.domain.formula import Draw
from production.domain.kitchen import Week
from production.domain.plan import PlannedRun
from production.domain.quantities import System, display_quantity
from production.domain.records.course_content import DrawNow, FilledNow, ShortLine
from production.domain.thermal.balance import volume_of_mass_l
from production.domain.thermal.food import stock_density_kg_m3
from production.domain.thermal.reduction import solids_from_brix_percent

COLD_C = 4.0  # litres of finished product are counted cold, as in the plan
BRIX_C = 20.0  # those of a reduction as Brix is read, as in the plan
HOTTEST_C = 100.0  # the density of stock is known up to here
SCALE_SHARE = 0.005  # a draw this much lighter than planned still fills what was planned (own choice)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A draw by the scales, with what is known of its strength."""

    mass_kg: float
    cold_l: float
    solids_percent: float


def drawn_from(amounts: Mapping[str, float], *, expected: Draw, brix_bx: float | None, per_bx_share: float) -> Drawn:
    """Mass and cold litres of a draw from its weight, or from its hot volume and temperature.

    Equation: mass = hot litres x density at that temperature; cold litres = mass / density at 4 degC. Strength by its
        Brix where it was read, else as expected.
    Units: amounts [kg, L, degC] by box, expected (record), brix_bx [Bx], per_bx_share [share]; returns [kg], [L], [%].
    Valid: a weight, or a volume with its temperature.
    Errors: OutOfRange as the workings.
    Source: thermal.food and its sources.
    """
    percent = expected.solids_percent
    if brix_bx is not None:
        percent = solids_from_brix_percent(reading_bx=brix_bx, per_bx_share=per_bx_share)
    mass_kg = amounts.get("mass")
    if mass_kg is None:
        hot_c = min(max(amounts["temp"], 0.0), HOTTEST_C)
        mass_kg = amounts["volume"] * stock_density_kg_m3(solids_percent=percent, temp_c=hot_c) / 1000.0
    cold = stock_density_kg_m3(solids_percent=percent, temp_c=COLD_C)
    return Drawn(mass_kg, volume_of_mass_l(mass_kg=mass_kg, density_kg_m3=cold), percent)


def draw_now(
    name: str,
    drawn: Drawn,
    *,
    planned: tuple[float, float],
    brix_bx: float | None,
    week: Week,
    portions: Iterable[Portion],
) -> DrawNow:
    """A draw against the plan: yield, dissolved solids, containers it fills, order lines that fall short.

    Equation: whole containers in the order of their dispatches while litres last; solids = mass x strength.
    Units: name (word), drawn (record), planned ([kg], [L]), brix_bx [Bx], week, portions (records); returns a record.
    Valid: any draw.
    Errors: none.
    Source: own definition; mass balance.
    """
    filled, short = _containers(week, tuple(portions), drawn.cold_l)
    system: System = "us" if week.kitchen.units == "us" else "metric"
    return DrawNow(
        name=name,
        mass_kg=drawn.mass_kg,
        cold_l=drawn.cold_l,
        planned_kg=planned[0],
        planned_cold_l=planned[1],
        solids_bx=brix_bx,
        solids_kg=drawn.mass_kg * drawn.solids_percent / 100.0 if brix_bx is not None else None,
        filled=filled,
        short=short,
        sentence=_yield_sentence(drawn, planned, short, system),
    )


def _containers(
    week: Week, portions: tuple[Portion, ...], litres: float
) -> tuple[tuple[FilledNow, ...], tuple[ShortLine, ...]]:
    """Containers are filled for the earliest dispatch first; what nobody waits for comes last."""
    left = litres + SCALE_SHARE * sum(portion.litres for portion in portions)
    filled = dict.fromkeys(range(len(portions)), 0)
    short = []
    wanted = [(peg.dispatch_at.timestamp(), n, peg) for n, portion in enumerate(portions) for peg in portion.pegs]
    for _, n, peg in sorted(wanted, key=lambda each: each[:2]):
        each_l = portions[n].litres / portions[n].containers
        fits = min(peg.containers, int(left / each_l + 1e-9))
        left, filled[n] = left - fits * each_l, filled[n] + fits
        if fits < peg.containers and not peg.line.startswith(PAR_PREFIX):
            product = week.get("products", portions[n].product)
            short.append(
                ShortLine(
                    line=peg.line,
                    outlet=_outlet(week, peg.line),
                    product=product.name,
                    containers=peg.containers - fits,
                    dispatch_at=peg.dispatch_at,
                )
            )
    for n, portion in enumerate(portions):
        each_l = portion.litres / portion.containers
        more = min(portion.containers - filled[n], int(left / each_l + 1e-9))
        left, filled[n] = left - more * each_l, filled[n] + more
    return tuple(_filled(week, portion, filled[n]) for n, portion in enumerate(portions)), tuple(short)


def _filled(week: Week, portion: Portion, possible: int) -> FilledNow:
    product = week.get("products", portion.product)
    return FilledNow(
        product=product.name,
        container=week.get("containers", product.container).name,
        planned=portion.containers,
        possible=min(possible, portion.containers),
    )


def _outlet(week: Week, line: str) -> str:
    code = next((each.outlet for each in week.order_lines if each.code == line), "")
    return next((each.name for each in week.outlets if each.code == code), code)


def _yield_sentence(drawn: Drawn, planned: tuple[float, float], short: tuple[ShortLine, ...], system: System) -> str:
    def show(value: float) -> str:
        return " ".join(display_quantity(value, "L", system))

    percent = 100.0 * drawn.mass_kg / planned[0]
    said = f"{show(drawn.cold_l)} cold of {show(planned[1])} planned ({percent:.0f} %)."
    missing = sum(line.containers for line in short)
    if not missing:
        return said
    whom = ", ".join(dict.fromkeys(line.outlet for line in short))
    return f"{said} {missing} container{'' if missing == 1 else 's'} will be missing for {whom}."


def planned_of(run: PlannedRun, name: str) -> tuple[float, float] | None:
    """Mass and cold litres that the plan expects of a draw.

    Equation: fields of the charge.
    Units: run (record), name (word); returns [kg], [L].
    Valid: first, second, reduction.
    Errors: none.
    Source: own definition.
    """
    charge = run.charge
    draw = charge.first if name == "first" else charge.liquor
    if name == "reduction":
        return (charge.reduction.mass_kg, charge.reduction.litres) if charge.reduction is not None else None
    return (draw.mass_kg, draw.cold_l) if draw is not None else None
