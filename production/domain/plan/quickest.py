"""How soon after its draw a product can be ready at the best."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from production.domain.batches import Quickest
from production.domain.cooling_capacity import Hot, cooling_choices, freeze_minutes
from production.domain.errors import OutOfRange
from production.domain.formula import pot_ranges
from production.domain.kitchen import Formula, Product
from production.domain.plan.frame import Frame
from production.domain.thermal.properties import boiling_point_c

_LIGHTEST_KG_M3 = 990.0  # no broth is lighter when it is cold
_HAIR_L = 1e-3


def quickest_of(frame: Frame) -> Quickest:
    """The fewest hours in which any draw of a formula is cold, and a product of its reduction frozen.

    Equation: the quickest of all ways to cool the least draw, and of those just beyond a whole number of vessels, where
        each holds least: in a sink only the fullest vessel counts, in a chiller what a vessel holds on average, and
        what is shared among devices fills the first of them. A frozen product: freeze_minutes of one container.
    Units: frame (record); returns [h].
    Valid: a week that passed its reader; frozen broths are not reckoned and take no time.
    Errors: UnknownParameter; PotwrightError for a cooling rule that is not known.
    Source: as cooling_choices and freeze_minutes.
    """
    boil_c = boiling_point_c(altitude_m=frame.week.kitchen.altitude_m)
    cold_h, glaze_h = {}, {}
    for formula in frame.week.formulas:
        ranges = pot_ranges(week=frame.week, parameters=frame.parameters, formula=formula)
        nets_l = [each.net_l for each in frame.week.products if each.formula == formula.code and each.kind != "broth"]
        if ranges:
            least_l = min(each.smallest_l for each in ranges)
            cold_h[formula.code] = _cold_h(frame, least_l, boil_c - formula.simmer_below_boil_k, glaze=False)
        if nets_l:
            glaze_h[formula.code] = _cold_h(frame, min(nets_l), boil_c, glaze=True)
    frozen = {each.code: _frozen_h(frame, each) for each in frame.week.products}
    return Quickest(cold_h=cold_h, glaze_h=glaze_h, frozen_h=frozen)


def _cold_h(frame: Frame, least_l: float, start_c: float, *, glaze: bool) -> float:
    hot = Hot(litres=least_l, density_kg_m3=_LIGHTEST_KG_M3, start_c=start_c, glaze=glaze)
    minutes = [
        way.mode.minutes
        for litres in {least_l, *_just_beyond(frame, least_l)}
        for way in cooling_choices(
            week=frame.week, parameters=frame.parameters, hot=replace(hot, litres=litres), in_full=False
        )
    ]
    return min(minutes, default=0) / 60.0


def _just_beyond(frame: Frame, least_l: float) -> Iterable[float]:
    for device in frame.week.cooling_devices:
        yield device.vessel_fill_l * math.ceil(least_l / device.vessel_fill_l) + _HAIR_L


def _frozen_h(frame: Frame, product: Product) -> float:
    formula: Formula = frame.formulas[product.formula]
    store = next((each for each in frame.week.stores if each.kind == "frozen"), None)
    if product.storage != "frozen" or product.kind == "broth" or store is None or formula.reduction_bx is None:
        return 0.0
    tray = frame.week.get("cube_trays", product.cube_tray) if product.cube_tray else None
    try:
        minutes = freeze_minutes(
            parameters=frame.parameters,
            product=product,
            container=frame.week.get("containers", product.container),
            store=store,
            mass_kg=product.net_l * _LIGHTEST_KG_M3 / 1000.0,
            solids_percent=formula.reduction_bx * frame.parameters.value("brix.protein_per_bx"),
            cell_edge_mm=(1000.0 * tray.cell_ml) ** (1.0 / 3.0) if tray else None,
        )
    except OutOfRange:
        return 0.0
    return minutes / 60.0
