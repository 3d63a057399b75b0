"""Water, steam and moist air: what the other computations are built on."""

from __future__ import annotations

import math

from production.domain.errors import OutOfRange
from production.domain.workings import working

ALTITUDE = (-430.0, 4500.0)
LIQUID = (0.0, 110.0)
SHARE = (0.0, 1.0)
AIR = (-40.0, 60.0)

# IAPWS-IF97, region 4, coefficients n1 to n10.
_N1, _N2, _N3, _N4, _N5 = 1167.0521452767, -724213.16703206, -17.073846940092, 12020.82470247, -3232555.0322333
_N6, _N7, _N8, _N9, _N10 = 14.91510861353, -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798


@working(cls="A", unit="kPa", ranges={"altitude_m": ALTITUDE})
def air_pressure_kpa(*, altitude_m: float) -> float:
    """Mean air pressure at an altitude; weather moves it by about 3 kPa either way.

    Equation: p = 101.325 (1 - 0.0065 h / 288.15)^5.25588.
    Units: altitude_m [m]; returns [kPa].
    Valid: -430 to 4500 m, standard atmosphere.
    Errors: OutOfRange outside that range.
    Source: ISO 2533 standard atmosphere, formula from memory.
    """
    return float(101.325 * (1.0 - 0.0065 * altitude_m / 288.15) ** 5.25588)


@working(cls="A", unit="degC", ranges={"pressure_kpa": (0.6113, 200.0)})
def saturation_temp_c(*, pressure_kpa: float) -> float:
    """Temperature at which plain water boils at a pressure.

    Equation: IAPWS-IF97 equation 31 (backward equation of the saturation line).
    Units: pressure_kpa [kPa]; returns [degC].
    Valid: 0.6113 to 200 kPa.
    Errors: OutOfRange outside that range.
    Source: IAPWS R7-97(2012), coefficients from memory, compared with an independent library in the tests.
    """
    beta = math.sqrt(math.sqrt(pressure_kpa / 1000.0))
    e = beta * beta + _N3 * beta + _N6
    f = _N1 * beta * beta + _N4 * beta + _N7
    g = _N2 * beta * beta + _N5 * beta + _N8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    total = _N10 + d
    return (total - math.sqrt(total * total - 4.0 * (_N9 + _N10 * d))) / 2.0 - 273.15


@working(cls="A", unit="kPa", ranges={"temp_c": LIQUID})
def saturation_pressure_kpa(*, temp_c: float) -> float:
    """Pressure of water vapour over plain water.

    Equation: IAPWS-IF97 equation 30.
    Units: temp_c [degC]; returns [kPa].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: IAPWS R7-97(2012), coefficients from memory, compared with an independent library in the tests.
    """
    theta = temp_c + 273.15 + _N9 / (temp_c + 273.15 - _N10)
    a = theta * theta + _N1 * theta + _N2
    b = _N3 * theta * theta + _N4 * theta + _N5
    c = _N6 * theta * theta + _N7 * theta + _N8
    return float(1000.0 * (2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4)


@working(cls="A", unit="degC", ranges={"altitude_m": ALTITUDE})
def boiling_point_c(*, altitude_m: float) -> float:
    """Temperature at which plain water boils at an altitude; weather moves it by about 0.9 K either way.

    Equation: saturation temperature at the standard air pressure of that altitude.
    Units: altitude_m [m]; returns [degC].
    Valid: -430 to 4500 m.
    Errors: OutOfRange outside that range.
    Source: ISO 2533 and IAPWS R7-97(2012) equation 31, from memory.
    """
    return saturation_temp_c(pressure_kpa=air_pressure_kpa(altitude_m=altitude_m))


@working(cls="A", unit="kg/m3", ranges={"temp_c": LIQUID})
def water_density_kg_m3(*, temp_c: float) -> float:
    """Density of plain water at kitchen pressure.

    Equation: (999.83952 + 16.945176 t - 7.9870401e-3 t2 - 46.170461e-6 t3 + 105.56302e-9 t4 - 280.54253e-12 t5)
        / (1 + 16.87985e-3 t).
    Units: temp_c [degC]; returns [kg/m3].
    Valid: 0 to 110 degC (fitted to 100; above, extended and compared).
    Errors: OutOfRange outside that range.
    Source: Kell, J. Chem. Eng. Data 20 (1975) 97, coefficients from memory.
    """
    t = temp_c
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return top / (1.0 + 16.87985e-3 * t)


@working(cls="A", unit="kJ/(kg K)", ranges={"temp_c": LIQUID})
def water_cp_kj_kg_k(*, temp_c: float) -> float:
    """Specific heat of plain water at kitchen pressure.

    Equation: 4.21929 - 0.33301 x + 1.09469 x2 - 1.92256 x3 + 2.01975 x4 - 1.12201 x5 + 0.259479 x6, x = t / 100.
    Units: temp_c [degC]; returns [kJ/(kg K)].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: own fit to IAPWS-95, largest difference 0.004 %.
    """
    x = temp_c / 100.0
    return 4.21929 + x * (-0.33301 + x * (1.09469 + x * (-1.92256 + x * (2.01975 + x * (-1.12201 + x * 0.259479)))))


@working(cls="A", unit="kJ/kg", ranges={"temp_c": LIQUID})
def latent_heat_kj_kg(*, temp_c: float) -> float:
    """Heat that turns one kilogram of water into steam.

    Equation: 2500.916 - 2.375869 t + 5.54077e-4 t2 - 1.247553e-5 t3.
    Units: temp_c [degC]; returns [kJ/kg].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: own fit to IAPWS-95, largest difference 0.03 kJ/kg.
    """
    t = temp_c
    return 2500.916 + t * (-2.375869 + t * (5.54077e-4 - 1.247553e-5 * t))


@working(cls="A", unit="mPa s", ranges={"temp_c": LIQUID})
def water_viscosity_mpa_s(*, temp_c: float) -> float:
    """Viscosity of plain water at kitchen pressure.

    Equation: (280.68 r^-1.9 + 511.45 r^-7.7 + 61.131 r^-19.6 + 0.45903 r^-40) / 1000, r = (t + 273.15) / 300.
    Units: temp_c [degC]; returns [mPa s].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: IAPWS SR6-08 liquid water at 0.1 MPa, coefficients from memory.
    """
    r = (temp_c + 273.15) / 300.0
    return float((280.68 * r**-1.9 + 511.45 * r**-7.7 + 61.131 * r**-19.6 + 0.45903 * r**-40.0) / 1000.0)


@working(cls="A", unit="share", ranges={"cold_c": LIQUID, "hot_c": LIQUID})
def water_expansion_share(*, cold_c: float, hot_c: float) -> float:
    """How much the volume of water grows from cold to hot (negative when it cools).

    Equation: rho(cold) / rho(hot) - 1.
    Units: cold_c [degC], hot_c [degC]; returns [share].
    Valid: 0 to 110 degC.
    Errors: OutOfRange outside that range.
    Source: Kell, J. Chem. Eng. Data 20 (1975) 97, coefficients from memory.
    """
    return water_density_kg_m3(temp_c=cold_c) / water_density_kg_m3(temp_c=hot_c) - 1.0


@working(cls="A", unit="kg/m3", ranges={"temp_c": (-40.0, 0.0)})
def ice_density_kg_m3(*, temp_c: float) -> float:
    """Density of plain ice.

    Equation: 916.7208 - 0.1469566 t - 2.367826e-4 t2.
    Units: temp_c [degC]; returns [kg/m3].
    Valid: -40 to 0 degC.
    Errors: OutOfRange outside that range.
    Source: own fit to IAPWS-06 (IAPWS R10-06), largest difference 0.002 kg/m3.
    """
    return 916.7208 - temp_c * (0.1469566 + 2.367826e-4 * temp_c)


@working(cls="A", unit="kg/kg", ranges={"temp_c": (0.0, 105.0), "humidity_share": SHARE, "pressure_kpa": (50.0, 110.0)})
def humidity_ratio_kg_kg(*, temp_c: float, humidity_share: float, pressure_kpa: float) -> float:
    """Water vapour carried by one kilogram of dry air.

    Equation: W = 0.622 p / (P - p), p = humidity x saturation pressure.
    Units: temp_c [degC], humidity_share [share], pressure_kpa [kPa]; returns [kg/kg].
    Valid: 0 to 105 degC while the vapour pressure stays below 0.95 of the air pressure.
    Errors: OutOfRange outside that range.
    Source: ideal gas mixture, standard text-book form, from memory.
    """
    vapour = _vapour_kpa(temp_c, humidity_share, pressure_kpa)
    return 0.622 * vapour / (pressure_kpa - vapour)


@working(cls="A", unit="kg/m3", ranges={"temp_c": (0.0, 105.0), "humidity_share": SHARE, "pressure_kpa": (50.0, 110.0)})
def dry_air_density_kg_m3(*, temp_c: float, humidity_share: float, pressure_kpa: float) -> float:
    """Mass of dry air in one cubic metre of moist air.

    Equation: rho = 1000 (P - p) / (287.05 T), p = humidity x saturation pressure.
    Units: temp_c [degC], humidity_share [share], pressure_kpa [kPa]; returns [kg/m3].
    Valid: 0 to 105 degC while the vapour pressure stays below 0.95 of the air pressure.
    Errors: OutOfRange outside that range.
    Source: ideal gas mixture, standard text-book form, from memory.
    """
    vapour = _vapour_kpa(temp_c, humidity_share, pressure_kpa)
    return 1000.0 * (pressure_kpa - vapour) / (287.05 * (temp_c + 273.15))


def _vapour_kpa(temp_c: float, humidity_share: float, pressure_kpa: float) -> float:
    vapour = humidity_share * saturation_pressure_kpa(temp_c=temp_c)
    if vapour > 0.95 * pressure_kpa:
        raise OutOfRange(
            f"Air at {temp_c:g} degC and {pressure_kpa:g} kPa would be nearly all steam.",
            code="air-saturated",
            numbers={"temp_c": temp_c, "pressure_kpa": pressure_kpa, "vapour_kpa": vapour},
            remedy="Treat the surface as boiling: the heat put in decides what leaves.",
        )
    return vapour
