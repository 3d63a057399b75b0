"""Food by composition: specific heat, density, and what freezing does to both."""

from __future__ import annotations

from production.domain.errors import OutOfRange
from production.domain.thermal.properties import SHARE, water_density_kg_m3
from production.domain.workings import working

FREEZING = (-8.0, -0.05)
FROZEN = (-40.0, 100.0)


_COMPOSITION = {
    "temp_c": (-40.0, 150.0),
    "water_share": SHARE,
    "protein_share": SHARE,
    "lipid_share": SHARE,
    "ash_share": SHARE,
    "carbohydrate_share": SHARE,
    "fibre_share": SHARE,
}


def _check_parts(*shares: float) -> None:
    total = sum(shares)
    if abs(total - 1.0) > 0.02:
        raise OutOfRange(
            f"The parts of the food add up to {total:.3f}, not to 1.",
            code="composition",
            numbers={"total": total},
            remedy="Give water, protein, lipid, ash, carbohydrate and fibre as shares that add up to 1.",
        )


@working(cls="B", unit="kJ/(kg K)", ranges=_COMPOSITION)
def food_cp_kj_kg_k(
    *,
    temp_c: float,
    water_share: float,
    protein_share: float,
    lipid_share: float,
    ash_share: float,
    carbohydrate_share: float = 0.0,
    fibre_share: float = 0.0,
) -> float:
    """Specific heat of an unfrozen food from what it is made of.

    Equation: sum of share x cp of each part, cp a quadratic in t (water 4.1289 - 9.0864e-5 t + 5.4731e-6 t2).
    Units: temp_c [degC], water_share, protein_share, lipid_share, ash_share, carbohydrate_share, fibre_share [share];
        returns [kJ/(kg K)].
    Valid: -40 to 150 degC, unfrozen, parts adding up to 1 within 0.02; good to 2-5 %.
    Errors: OutOfRange outside that range.
    Source: Choi and Okos 1986 as in ASHRAE Handbook Refrigeration, coefficients from memory.
    """
    _check_parts(water_share, protein_share, lipid_share, ash_share, carbohydrate_share, fibre_share)
    t = temp_c
    return (
        water_share * (4.1289 + t * (-9.0864e-5 + 5.4731e-6 * t))
        + protein_share * (2.0082 + t * (1.2089e-3 - 1.3129e-6 * t))
        + lipid_share * (1.9842 + t * (1.4733e-3 - 4.8008e-6 * t))
        + carbohydrate_share * (1.5488 + t * (1.9625e-3 - 5.9399e-6 * t))
        + fibre_share * (1.8459 + t * (1.8306e-3 - 4.6509e-6 * t))
        + ash_share * (1.0926 + t * (1.8896e-3 - 3.6817e-6 * t))
    )


@working(cls="B", unit="kg/m3", ranges=_COMPOSITION)
def food_density_kg_m3(
    *,
    temp_c: float,
    water_share: float,
    protein_share: float,
    lipid_share: float,
    ash_share: float,
    carbohydrate_share: float = 0.0,
    fibre_share: float = 0.0,
) -> float:
    """Density of an unfrozen food without pores from what it is made of.

    Equation: 1 / sum of share / density of each part (water 997.18 + 3.1439e-3 t - 3.7574e-3 t2,
        protein 1329.9 - 0.5184 t, fat 925.59 - 0.41757 t, carbohydrate 1599.1 - 0.31046 t,
        fibre 1311.5 - 0.36589 t, ash 2423.8 - 0.28063 t).
    Units: temp_c [degC], water_share, protein_share, lipid_share, ash_share, carbohydrate_share, fibre_share [share];
        returns [kg/m3].
    Valid: -40 to 150 degC, unfrozen, parts adding up to 1 within 0.02; food with air in it is lighter.
    Errors: OutOfRange outside that range.
    Source: Choi and Okos 1986 as in ASHRAE Handbook Refrigeration, coefficients from memory.
    """
    _check_parts(water_share, protein_share, lipid_share, ash_share, carbohydrate_share, fibre_share)
    return 1.0 / (
        water_share / _part_water(temp_c)
        + _dry_volume(temp_c, protein_share, lipid_share, ash_share, carbohydrate_share, fibre_share)
    )


def _part_water(t: float) -> float:
    return 997.18 + t * (3.1439e-3 - 3.7574e-3 * t)


def _dry_volume(t: float, protein: float, lipid: float, ash: float, carbohydrate: float, fibre: float) -> float:
    return (
        protein / (1329.9 - 0.5184 * t)
        + lipid / (925.59 - 0.41757 * t)
        + carbohydrate / (1599.1 - 0.31046 * t)
        + fibre / (1311.5 - 0.36589 * t)
        + ash / (2423.8 - 0.28063 * t)
    )


@working(
    cls="B",
    unit="kJ/kg",
    ranges={"temp_c": FROZEN, "water_share": SHARE, "protein_share": SHARE, "freezing_c": FREEZING},
)
def food_enthalpy_kj_kg(*, temp_c: float, water_share: float, protein_share: float, freezing_c: float) -> float:
    """Heat content of a food above -40 degC, through freezing.

    Equation: below freezing h = (T + 40)(1.55 + 1.26 xs - (xw - 0.4 xp) 333.6 Tf / (-40 T)), above
        h = h(Tf) + (T - Tf)(4.19 - 2.30 xs - 0.628 xs3), xs = 1 - xw.
    Units: temp_c [degC], water_share [share], protein_share [share], freezing_c [degC]; returns [kJ/kg].
    Valid: -40 to 100 degC, freezing point -8 to -0.05 degC, water not less than 0.4 of the protein.
    Errors: OutOfRange outside that range.
    Source: Chen 1985 as in ASHRAE Handbook Refrigeration, from memory.
    """
    solids = 1.0 - water_share
    freezable = _freezable(water_share, protein_share)

    def frozen(t: float) -> float:
        return (t + 40.0) * (1.55 + 1.26 * solids + freezable * 333.6 * freezing_c / (40.0 * t))

    if temp_c <= freezing_c:
        return frozen(temp_c)
    return frozen(freezing_c) + (temp_c - freezing_c) * (4.19 - 2.30 * solids - 0.628 * solids**3)


def _freezable(water: float, protein: float) -> float:
    freezable = water - 0.4 * protein
    if freezable < 0.0:
        raise OutOfRange(
            f"A food of {water:.2f} water and {protein:.2f} protein has no water left to freeze.",
            code="composition",
            numbers={"water_share": water, "protein_share": protein},
            remedy="Give the shares of the food as it is, not of its dry part.",
        )
    return freezable


@working(
    cls="B",
    unit="kJ/kg",
    ranges={
        "from_c": FROZEN,
        "to_c": FROZEN,
        "water_share": SHARE,
        "protein_share": SHARE,
        "freezing_c": FREEZING,
    },
)
def enthalpy_rise_kj_kg(
    *, from_c: float, to_c: float, water_share: float, protein_share: float, freezing_c: float
) -> float:
    """Heat that takes a food from one temperature to another, through thawing or (negative) freezing.

    Equation: h(to) - h(from).
    Units: from_c [degC], to_c [degC], water_share [share], protein_share [share], freezing_c [degC]; returns [kJ/kg].
    Valid: -40 to 100 degC, freezing point -8 to -0.05 degC.
    Errors: OutOfRange outside that range.
    Source: Chen 1985 as in ASHRAE Handbook Refrigeration, from memory.
    """
    high = food_enthalpy_kj_kg(temp_c=to_c, water_share=water_share, protein_share=protein_share, freezing_c=freezing_c)
    low = food_enthalpy_kj_kg(
        temp_c=from_c, water_share=water_share, protein_share=protein_share, freezing_c=freezing_c
    )
    return high - low


@working(
    cls="B",
    unit="share",
    ranges={"temp_c": (-40.0, 110.0), "water_share": SHARE, "protein_share": SHARE, "freezing_c": FREEZING},
)
def ice_share(*, temp_c: float, water_share: float, protein_share: float, freezing_c: float) -> float:
    """Ice in a food, as a share of the whole food.

    Equation: (xw - 0.4 xp)(1 - Tf / T) below the freezing point, 0 above.
    Units: temp_c [degC], water_share [share], protein_share [share], freezing_c [degC]; returns [share].
    Valid: -40 to 110 degC, freezing point -8 to -0.05 degC.
    Errors: OutOfRange outside that range.
    Source: Chen 1985 as in ASHRAE Handbook Refrigeration, from memory.
    """
    freezable = _freezable(water_share, protein_share)
    return freezable * (1.0 - freezing_c / temp_c) if temp_c < freezing_c else 0.0


@working(
    cls="B",
    unit="share",
    ranges={
        "from_c": (-40.0, 110.0),
        "to_c": (-40.0, 110.0),
        "water_share": SHARE,
        "protein_share": SHARE,
        "ash_share": SHARE,
        "lipid_share": SHARE,
        "freezing_c": FREEZING,
    },
)
def freezing_expansion_share(
    *,
    from_c: float,
    to_c: float,
    water_share: float,
    protein_share: float,
    ash_share: float,
    freezing_c: float,
    lipid_share: float = 0.0,
) -> float:
    """How much the volume of a stock grows when it freezes.

    Equation: v(to) / v(from) - 1, v = ice / ice density + liquid water / water density + dry parts / their densities.
    Units: from_c [degC], to_c [degC], water_share [share], protein_share [share], ash_share [share],
        freezing_c [degC], lipid_share [share]; returns [share].
    Valid: -40 to 110 degC, freezing point -8 to -0.05 degC, parts adding up to 1 within 0.02.
    Errors: OutOfRange outside that range.
    Source: Choi and Okos 1986 densities and Chen 1985 ice share, from memory.
    """
    _check_parts(water_share, protein_share, ash_share, lipid_share)

    def volume(t: float) -> float:
        ice = ice_share(temp_c=t, water_share=water_share, protein_share=protein_share, freezing_c=freezing_c)
        water = (water_share - ice) / _part_water(t) + ice / (916.89 - 0.13071 * t)
        return water + _dry_volume(t, protein_share, lipid_share, ash_share, 0.0, 0.0)

    return volume(to_c) / volume(from_c) - 1.0


@working(cls="B", unit="kg/m3", ranges={"solids_percent": (0.0, 60.0), "temp_c": (0.0, 100.0)})
def stock_density_kg_m3(*, solids_percent: float, temp_c: float) -> float:
    """Density of a defatted stock whose solids are protein.

    Equation: 1 / (x / (1329.9 - 0.5184 t) + (1 - x) / water density), x = solids / 100.
    Units: solids_percent [%], temp_c [degC]; returns [kg/m3].
    Valid: 0 to 60 % solids, 0 to 100 degC; sugar of equal strength is 1 to 5 % denser.
    Errors: OutOfRange outside that range.
    Source: Choi and Okos 1986 protein density and Kell water density, from memory.
    """
    share = solids_percent / 100.0
    return 1.0 / (share / (1329.9 - 0.5184 * temp_c) + (1.0 - share) / water_density_kg_m3(temp_c=temp_c))
