"""Mass balance of the first and second draw: what goes in, what is drawn, and what stays behind."""

from __future__ import annotations

from production.domain.errors import DoesNotFit
from production.domain.thermal.heating import MASS
from production.domain.thermal.pots import DENSITY, VOLUME
from production.domain.thermal.properties import SHARE, water_density_kg_m3
from production.domain.workings import working

YIELD = (-3.0, 3.0)
HOURS = (0.0, 200.0)
PERCENT = (0.0, 100.0)


@working(cls="A", unit="kg", ranges={"volume_l": VOLUME, "temp_c": (0.0, 110.0)})
def water_mass_kg(*, volume_l: float, temp_c: float) -> float:
    """Mass of a volume of water.

    Equation: V rho(T).
    Units: volume_l [L], temp_c [degC]; returns [kg].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: water density.
    """
    return volume_l * water_density_kg_m3(temp_c=temp_c) / 1000.0


@working(cls="C", unit="kg", ranges={"mass_kg": MASS, "yield_share": YIELD})
def released_kg(*, mass_kg: float, yield_share: float) -> float:
    """What a raw solid releases (solubles, fat, water) or holds back (cling).

    Equation: m x share.
    Units: mass_kg [kg] raw, yield_share [share] of the raw solid; returns [kg], negative where the solid takes up.
    Valid: -3 to 3 kg per kg.
    Errors: OutOfRange outside that range.
    Source: definition; the shares are common practice, no source.
    """
    return mass_kg * yield_share


@working(cls="A", unit="kg", ranges={"evaporation_kg_h": (0.0, 500.0), "time_h": HOURS})
def evaporated_kg(*, evaporation_kg_h: float, time_h: float) -> float:
    """Water that leaves during a stage.

    Equation: E t.
    Units: evaporation_kg_h [kg/h], time_h [h]; returns [kg].
    Valid: steady stage up to 200 h.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return evaporation_kg_h * time_h


@working(
    cls="B",
    unit="kg",
    ranges={
        "water_kg": MASS,
        "topup_kg": MASS,
        "solids_water_kg": (-5000.0, 5000.0),
        "solubles_kg": MASS,
        "evaporated_kg": MASS,
        "skim_kg": MASS,
    },
)
def aqueous_kg(
    *,
    water_kg: float,
    topup_kg: float,
    solids_water_kg: float,
    solubles_kg: float,
    evaporated_kg: float,
    skim_kg: float,
) -> float:
    """Liquid without fat in the pot at the end of the first extraction, before straining.

    Equation: water + top-up + water from solids + solubles - evaporated - skimmed.
    Units: water_kg [kg], topup_kg [kg], solids_water_kg [kg] (negative: taken up), solubles_kg [kg],
        evaporated_kg [kg], skim_kg [kg]; returns [kg].
    Valid: rendered fat is a layer of its own and not counted here.
    Errors: OutOfRange outside that range; DoesNotFit when the pot boils dry.
    Source: mass balance.
    """
    left = water_kg + topup_kg + solids_water_kg + solubles_kg - evaporated_kg - skim_kg
    if left <= 0.0:
        raise DoesNotFit(
            "More water leaves this pot than is in it.",
            code="boils-dry",
            numbers={"water_kg": water_kg, "evaporated_kg": evaporated_kg, "missing_kg": -left},
            remedy="Add top-up water, put the lid on or shorten the simmer.",
        )
    return left


@working(
    cls="B",
    unit="kg",
    ranges={"liquid_kg": MASS, "cling_kg": MASS, "holdup_kg": (0.0, 100.0)},
    parameters=("holdup.equipment_kg",),
)
def drawn_kg(*, liquid_kg: float, cling_kg: float, holdup_kg: float) -> float:
    """Stock that is drawn off, fat taken away.

    Equation: liquid in the pot - cling on spent solids - hold-up of pot heel, strainer and hose.
    Units: liquid_kg [kg], cling_kg [kg], holdup_kg [kg]; returns [kg].
    Valid: first and second draw.
    Errors: OutOfRange outside that range; DoesNotFit when nothing can be drawn.
    Source: mass balance.
    """
    drawn = liquid_kg - cling_kg - holdup_kg
    if drawn <= 0.0:
        raise DoesNotFit(
            "Nothing can be drawn: the solids and the equipment hold all the liquid.",
            code="nothing-to-draw",
            numbers={"liquid_kg": liquid_kg, "cling_kg": cling_kg, "holdup_kg": holdup_kg},
            remedy="Use more water for these solids.",
        )
    return drawn


@working(cls="B", unit="%", ranges={"solubles_kg": MASS, "liquid_kg": (1e-6, 10000.0)})
def draw_solids_percent(*, solubles_kg: float, liquid_kg: float) -> float:
    """Dissolved solids of the liquid, by weight.

    Equation: 100 x solubles / liquid.
    Units: solubles_kg [kg], liquid_kg [kg]; returns [%] w/w.
    Valid: liquid without fat.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return 100.0 * solubles_kg / liquid_kg


@working(
    cls="C",
    unit="kg",
    ranges={
        "mass_kg": MASS,
        "soluble_share": SHARE,
        "fat_share": SHARE,
        "water_net_share": YIELD,
        "cling_share": SHARE,
    },
)
def spent_solids_kg(
    *, mass_kg: float, soluble_share: float, fat_share: float, water_net_share: float, cling_share: float
) -> float:
    """Mass of wet spent solids that leave the pot.

    Equation: m (1 - s - f - j + k).
    Units: mass_kg [kg], soluble_share [share], fat_share [share], water_net_share [share], cling_share [share];
        returns [kg].
    Valid: shares of the raw solid.
    Errors: OutOfRange outside that range.
    Source: mass balance.
    """
    return mass_kg * (1.0 - soluble_share - fat_share - water_net_share + cling_share)


@working(
    cls="A",
    unit="kg",
    ranges=dict.fromkeys(
        ("in_kg", "drawn_kg", "spent_kg", "fat_kg", "evaporated_kg", "skim_kg", "holdup_kg"), (0.0, 20000.0)
    ),
)
def balance_gap_kg(
    *,
    in_kg: float,
    drawn_kg: float,
    spent_kg: float,
    fat_kg: float,
    evaporated_kg: float,
    skim_kg: float,
    holdup_kg: float,
) -> float:
    """What is missing (positive) or too much (negative) when everything that left is added up.

    Equation: in - drawn - spent - fat - evaporated - skimmed - hold-up.
    Units: in_kg [kg], drawn_kg [kg], spent_kg [kg], fat_kg [kg], evaporated_kg [kg], skim_kg [kg], holdup_kg [kg];
        returns [kg].
    Valid: one run.
    Errors: OutOfRange outside that range.
    Source: mass balance.
    """
    return in_kg - drawn_kg - spent_kg - fat_kg - evaporated_kg - skim_kg - holdup_kg


@working(
    cls="B",
    unit="kg",
    ranges={
        "wanted_kg": MASS,
        "water_ratio_kg_kg": (0.1, 20.0),
        "skim_share": (0.0, 0.5),
        "soluble_share": SHARE,
        "water_net_share": YIELD,
        "cling_share": (0.0, 2.0),
        "evaporated_kg": MASS,
        "holdup_kg": (0.0, 100.0),
        "topup_kg": MASS,
    },
)
def solids_for_drawn_kg(
    *,
    wanted_kg: float,
    water_ratio_kg_kg: float,
    skim_share: float,
    soluble_share: float,
    water_net_share: float,
    cling_share: float,
    evaporated_kg: float,
    holdup_kg: float,
    topup_kg: float = 0.0,
) -> float:
    """Raw solids of a charge that draws a wanted mass of stock; the inverse of the first-draw balance.

    Equation: m = (wanted + evaporated + hold-up - top-up) / (r (1 - skim) + j + s - k), r = water per solids.
    Units: wanted_kg [kg], water_ratio_kg_kg [kg/kg], skim_share [share] of the water, soluble_share, water_net_share,
        cling_share [share] averaged over the solids, evaporated_kg [kg], holdup_kg [kg], topup_kg [kg]; returns [kg].
    Valid: water given up or taken up as in the forward balance; evaporation does not depend on the charge.
    Errors: OutOfRange outside that range; DoesNotFit when the solids hold more than the water brings.
    Source: mass balance solved for the charge.
    """
    per_kg = water_ratio_kg_kg * (1.0 - skim_share) + water_net_share + soluble_share - cling_share
    if per_kg <= 0.0:
        raise DoesNotFit(
            "These solids hold back more liquid than their water brings.",
            code="ratio-too-dry",
            numbers={"water_ratio_kg_kg": water_ratio_kg_kg, "drawn_per_kg": per_kg},
            remedy="Use more water per kilogram of solids.",
        )
    return max(0.0, (wanted_kg + evaporated_kg + holdup_kg - topup_kg) / per_kg)


@working(
    cls="B",
    unit="kg",
    ranges={"refill_kg": MASS, "carried_kg": MASS, "new_solids_kg": MASS, "evaporated_kg": MASS},
)
def second_liquid_kg(*, refill_kg: float, carried_kg: float, new_solids_kg: float, evaporated_kg: float) -> float:
    """Liquid in the pot at the end of the second extraction, before straining.

    Equation: refill + carried + new solubles - evaporated.
    Units: refill_kg [kg], carried_kg [kg] left in the bed by the first draw, new_solids_kg [kg], evaporated_kg [kg];
        returns [kg].
    Valid: refill onto drained, unrinsed solids.
    Errors: OutOfRange outside that range; DoesNotFit when the pot boils dry.
    Source: mass balance.
    """
    return aqueous_kg(
        water_kg=refill_kg,
        topup_kg=carried_kg,
        solids_water_kg=0.0,
        solubles_kg=new_solids_kg,
        evaporated_kg=evaporated_kg,
        skim_kg=0.0,
    )


@working(
    cls="B",
    unit="%",
    ranges={
        "refill_kg": MASS,
        "carried_kg": MASS,
        "carried_percent": PERCENT,
        "new_solids_kg": MASS,
        "evaporated_kg": MASS,
    },
)
def second_solids_percent(
    *, refill_kg: float, carried_kg: float, carried_percent: float, new_solids_kg: float, evaporated_kg: float
) -> float:
    """Dissolved solids of the second draw, by weight.

    Equation: 100 (K C1 / 100 + S2) / (refill + K + S2 - E).
    Units: refill_kg [kg], carried_kg [kg] K, carried_percent [%] C1, new_solids_kg [kg] S2, evaporated_kg [kg] E;
        returns [%] w/w.
    Valid: refill onto drained, unrinsed solids.
    Errors: OutOfRange outside that range; DoesNotFit when the pot boils dry.
    Source: mass balance.
    """
    liquid = second_liquid_kg(
        refill_kg=refill_kg, carried_kg=carried_kg, new_solids_kg=new_solids_kg, evaporated_kg=evaporated_kg
    )
    return draw_solids_percent(solubles_kg=carried_kg * carried_percent / 100.0 + new_solids_kg, liquid_kg=liquid)


@working(
    cls="B",
    unit="kg",
    ranges={
        "wanted_kg": MASS,
        "carried_kg": MASS,
        "new_solids_kg": MASS,
        "evaporated_kg": MASS,
        "cling_kg": MASS,
        "holdup_kg": (0.0, 100.0),
    },
)
def second_refill_kg(
    *,
    wanted_kg: float,
    carried_kg: float,
    new_solids_kg: float,
    evaporated_kg: float,
    cling_kg: float,
    holdup_kg: float,
) -> float:
    """Refill water that makes the second draw a wanted mass; the inverse of the second-draw balance.

    Equation: wanted + cling + hold-up + evaporated - carried - new solubles.
    Units: wanted_kg [kg], carried_kg [kg], new_solids_kg [kg], evaporated_kg [kg], cling_kg [kg], holdup_kg [kg];
        returns [kg], never below 0.
    Valid: refill onto drained, unrinsed solids.
    Errors: OutOfRange outside that range.
    Source: mass balance solved for the refill.
    """
    return max(0.0, wanted_kg + cling_kg + holdup_kg + evaporated_kg - carried_kg - new_solids_kg)


@working(cls="A", unit="L", ranges={"mass_kg": (0.0, 10000.0), "density_kg_m3": (300.0, 2500.0)})
def volume_of_mass_l(*, mass_kg: float, density_kg_m3: float) -> float:
    """Volume of a mass at a density; say at which temperature.

    Equation: 1000 m / rho.
    Units: mass_kg [kg], density_kg_m3 [kg/m3]; returns [L].
    Valid: any liquid.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return 1000.0 * mass_kg / density_kg_m3


@working(cls="A", unit="kg/kg", ranges={"water_kg": MASS, "solids_kg": (1e-6, 5000.0)})
def water_ratio_kg_kg(*, water_kg: float, solids_kg: float) -> float:
    """Charge ratio by weight.

    Equation: water / solids.
    Units: water_kg [kg], solids_kg [kg]; returns [kg/kg].
    Valid: solids weighed raw.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return water_kg / solids_kg


@working(cls="A", unit="times", ranges={"water_l": VOLUME, "solids_kg": (1e-6, 5000.0), "density_kg_m3": DENSITY})
def water_to_displaced_factor(*, water_l: float, solids_kg: float, density_kg_m3: float) -> float:
    """Charge ratio by volume, the solids measured by the liquid they displace (not heaped).

    Equation: V_water / (m / rho).
    Units: water_l [L], solids_kg [kg], density_kg_m3 [kg/m3]; returns [times].
    Valid: solids weighed raw.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return water_l * density_kg_m3 / (1000.0 * solids_kg)


@working(cls="A", unit="kg", ranges={"mass_kg": MASS, "ratio_kg_kg": (0.0, 20.0)})
def proportion_kg(*, mass_kg: float, ratio_kg_kg: float) -> float:
    """A mass that goes with another mass in a fixed ratio: water with solids, onion with solids, refill with a draw.

    Equation: m x ratio.
    Units: mass_kg [kg], ratio_kg_kg [kg/kg]; returns [kg].
    Valid: ratios of a formula.
    Errors: OutOfRange outside that range.
    Source: definition; the ratio is the formula's choice.
    """
    return mass_kg * ratio_kg_kg


@working(
    cls="C", unit="kg", ranges={"finished_l": VOLUME, "recipe_solids_kg": MASS, "recipe_finished_l": (0.01, 5000.0)}
)
def scaled_solids_kg(*, finished_l: float, recipe_solids_kg: float, recipe_finished_l: float) -> float:
    """Solids of a larger or smaller run by simple proportion; losses do not scale, so only a first guess.

    Equation: solids of the recipe x finished / finished of the recipe.
    Units: finished_l [L], recipe_solids_kg [kg], recipe_finished_l [L]; returns [kg].
    Valid: as a first guess.
    Errors: OutOfRange outside that range.
    Source: definition.
    """
    return recipe_solids_kg * finished_l / recipe_finished_l


@working(cls="A", unit="kg", ranges={"first_kg": MASS, "second_kg": MASS})
def joined_kg(*, first_kg: float, second_kg: float) -> float:
    """Two liquors poured together.

    Equation: m1 + m2.
    Units: first_kg [kg], second_kg [kg]; returns [kg].
    Valid: 0 to 10 000 kg each.
    Errors: OutOfRange outside that range.
    Source: mass balance.
    """
    return first_kg + second_kg


@working(
    cls="A",
    unit="%",
    ranges={
        "first_kg": (1e-6, 10000.0),
        "first_percent": (0.0, 100.0),
        "second_kg": MASS,
        "second_percent": (0.0, 100.0),
    },
)
def joined_percent(*, first_kg: float, first_percent: float, second_kg: float, second_percent: float) -> float:
    """Dissolved solids of two liquors poured together.

    Equation: (m1 w1 + m2 w2) / (m1 + m2).
    Units: first_kg [kg], first_percent [%], second_kg [kg], second_percent [%]; returns [%].
    Valid: more than nothing of the first.
    Errors: OutOfRange outside that range.
    Source: mass balance.
    """
    return (first_kg * first_percent + second_kg * second_percent) / (first_kg + second_kg)
