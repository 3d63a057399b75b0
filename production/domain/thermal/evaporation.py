"""Steam that leaves the pot: at a rolling boil set by the heat, at a simmer by the heat and the surface."""

from __future__ import annotations

from production.domain.errors import OutOfRange
from production.domain.thermal.heating import LIQUID_C, LOSS, POT_WIDTH, POWER, WATER_CP_KJ_KG_K
from production.domain.thermal.pots import pot_area_m2
from production.domain.thermal.properties import (
    AIR,
    ALTITUDE,
    SHARE,
    air_pressure_kpa,
    boiling_point_c,
    dry_air_density_kg_m3,
    humidity_ratio_kg_kg,
    latent_heat_kj_kg,
    saturation_pressure_kpa,
    saturation_temp_c,
)
from production.domain.workings import working

ROOM = (0.0, 50.0)
EVAPORATION = (0.0, 500.0)
_STEAM_LIMIT = 0.9


@working(
    cls="B",
    unit="kg/h",
    ranges={
        "power_kw": POWER,
        "efficiency_share": SHARE,
        "loss_w_k": LOSS,
        "air_c": AIR,
        "altitude_m": ALTITUDE,
        "feed_kg_h": (0.0, 500.0),
        "feed_c": LIQUID_C,
    },
)
def boil_evaporation_kg_h(
    *,
    power_kw: float,
    efficiency_share: float,
    loss_w_k: float,
    air_c: float,
    altitude_m: float,
    feed_kg_h: float = 0.0,
    feed_c: float = 20.0,
) -> float:
    """Water that leaves at a rolling boil; the heat decides, not the surface.

    Equation: E = 3600 [eta P - UA (Tb - Ta) - feed c (Tb - Tfeed)] / h_fg(Tb), never below 0.
    Units: power_kw [kW], efficiency_share [share], loss_w_k [W/K], air_c [degC], altitude_m [m], feed_kg_h [kg/h],
        feed_c [degC]; returns [kg/h].
    Valid: rolling boil, open pot; 0 when the heat does not hold the boil.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    boil = boiling_point_c(altitude_m=altitude_m)
    loss = loss_w_k * (boil - air_c) / 1000.0
    feed = feed_kg_h / 3600.0 * WATER_CP_KJ_KG_K * (boil - feed_c)
    return max(0.0, 3600.0 * (efficiency_share * power_kw - loss - feed) / latent_heat_kj_kg(temp_c=boil))


@working(
    cls="C",
    unit="kg/(m2 h)",
    ranges={"surface_c": (20.0, 97.0), "air_c": ROOM, "humidity_share": SHARE, "altitude_m": ALTITUDE},
)
def simmer_flux_kg_m2_h(*, surface_c: float, air_c: float, humidity_share: float, altitude_m: float) -> float:
    """Water that leaves each square metre of a still surface below the boil.

    Equation: E = C rho_w (rho_r - rho_w)^(1/3) (W_w - W_r), C = 35, or 40 when rho_r - rho_w < 0.02;
        rho = dry air per cubic metre, W = humidity ratio, w = at the surface, r = in the room.
    Units: surface_c [degC], air_c [degC], humidity_share [share], altitude_m [m]; returns [kg/(m2 h)].
    Valid: 20 to 97 degC while the vapour pressure at the surface stays below 0.9 of the air pressure; still air.
    Errors: OutOfRange outside that range.
    Source: still-air natural convection form of a 2002 evaluation paper, HVAC&R Research 8(1), from memory; its
        abstract claims 18 % mean deviation, other models differ by a factor of 2 at 95 degC.
    """
    pressure = air_pressure_kpa(altitude_m=altitude_m)
    if saturation_pressure_kpa(temp_c=surface_c) > _STEAM_LIMIT * pressure:
        raise OutOfRange(
            f"At {altitude_m:g} m a surface of {surface_c:g} degC is as good as boiling.",
            code="surface-boils",
            numbers={"surface_c": surface_c, "altitude_m": altitude_m},
            remedy="Use the rolling boil with the power of the burner.",
        )
    surface_ratio = humidity_ratio_kg_kg(temp_c=surface_c, humidity_share=1.0, pressure_kpa=pressure)
    room_ratio = humidity_ratio_kg_kg(temp_c=air_c, humidity_share=humidity_share, pressure_kpa=pressure)
    at_surface = dry_air_density_kg_m3(temp_c=surface_c, humidity_share=1.0, pressure_kpa=pressure)
    in_room = dry_air_density_kg_m3(temp_c=air_c, humidity_share=humidity_share, pressure_kpa=pressure)
    lift = in_room - at_surface
    if lift <= 0.0 or surface_ratio <= room_ratio:
        return 0.0
    factor = 40.0 if lift < 0.02 else 35.0
    return float(factor * at_surface * lift ** (1.0 / 3.0) * (surface_ratio - room_ratio))


@working(
    cls="C",
    unit="kg/h",
    ranges={
        "surface_c": (20.0, 97.0),
        "inner_diameter_m": POT_WIDTH,
        "air_c": ROOM,
        "humidity_share": SHARE,
        "altitude_m": ALTITUDE,
        "flux_factor": (0.05, 5.0),
    },
    parameters=("evaporation.simmer_flux_scale",),
)
def simmer_evaporation_kg_h(
    *,
    surface_c: float,
    inner_diameter_m: float,
    air_c: float,
    humidity_share: float,
    altitude_m: float,
    flux_factor: float = 1.0,
) -> float:
    """Water that leaves an open pot at a bare simmer.

    Equation: flux x pi D2 / 4 x factor.
    Units: surface_c [degC], inner_diameter_m [m], air_c [degC], humidity_share [share], altitude_m [m],
        flux_factor [times]; returns [kg/h].
    Valid: as the flux; a factor from the kitchen's own weighings overrides everything else.
    Errors: OutOfRange outside that range.
    Source: as the flux.
    """
    flux = simmer_flux_kg_m2_h(surface_c=surface_c, air_c=air_c, humidity_share=humidity_share, altitude_m=altitude_m)
    return flux_factor * flux * pot_area_m2(inner_diameter_m=inner_diameter_m)


@working(
    cls="C",
    unit="kg/h",
    ranges={"open_kg_h": EVAPORATION, "lid_share": SHARE, "fat_layer_share": SHARE},
    parameters=("evaporation.lid_on_share", "evaporation.lid_ajar_share", "evaporation.fat_layer_share"),
)
def covered_evaporation_kg_h(*, open_kg_h: float, lid_share: float = 1.0, fat_layer_share: float = 1.0) -> float:
    """Water that leaves under a lid or a layer of fat at the same simmer.

    Equation: open evaporation x share past the lid x share past the fat.
    Units: open_kg_h [kg/h], lid_share [share], fat_layer_share [share]; returns [kg/h].
    Valid: the burner is turned down to the same simmer; at a fixed burner the steam leaves at the gap instead.
    Errors: OutOfRange outside that range.
    Source: common practice, no source.
    """
    return open_kg_h * lid_share * fat_layer_share


@working(
    cls="B",
    unit="kW",
    ranges={
        "evaporation_kg_h": EVAPORATION,
        "surface_c": LIQUID_C,
        "loss_w_k": LOSS,
        "air_c": AIR,
        "efficiency_share": (0.05, 1.0),
    },
)
def hold_power_kw(
    *, evaporation_kg_h: float, surface_c: float, loss_w_k: float, air_c: float, efficiency_share: float
) -> float:
    """Burner setting that holds a simmer at which this much water leaves.

    Equation: P = [E h_fg / 3600 + UA (Ts - Ta) / 1000] / eta.
    Units: evaporation_kg_h [kg/h], surface_c [degC], loss_w_k [W/K], air_c [degC], efficiency_share [share];
        returns [kW].
    Valid: steady simmer.
    Errors: OutOfRange outside that range.
    Source: energy balance.
    """
    steam = evaporation_kg_h * latent_heat_kj_kg(temp_c=surface_c) / 3600.0
    return max(0.0, steam + loss_w_k * (surface_c - air_c) / 1000.0) / efficiency_share


@working(
    cls="C",
    unit="degC",
    ranges={
        "heat_kw": (0.0, 100.0),
        "inner_diameter_m": POT_WIDTH,
        "loss_w_k": LOSS,
        "air_c": ROOM,
        "humidity_share": SHARE,
        "altitude_m": ALTITUDE,
        "flux_factor": (0.05, 5.0),
    },
    parameters=("evaporation.simmer_flux_scale",),
)
def simmer_surface_c(
    *,
    heat_kw: float,
    inner_diameter_m: float,
    loss_w_k: float,
    air_c: float,
    humidity_share: float,
    altitude_m: float,
    flux_factor: float = 1.0,
) -> float:
    """Temperature at which an open pot settles under a given net heat; the boiling point when it boils.

    Equation: solve eta P = E(Ts) h_fg(Ts) + UA (Ts - Ta) for Ts.
    Units: heat_kw [kW] into the food, inner_diameter_m [m], loss_w_k [W/K], air_c [degC], humidity_share [share],
        altitude_m [m], flux_factor [times]; returns [degC].
    Valid: open pot, still air.
    Errors: OutOfRange outside that range.
    Source: energy balance with the still-air flux.
    """
    low = max(20.0, air_c)
    boil = boiling_point_c(altitude_m=altitude_m)
    high = min(97.0, saturation_temp_c(pressure_kpa=_STEAM_LIMIT * air_pressure_kpa(altitude_m=altitude_m)) - 1e-6)

    def spare_kw(surface_c: float) -> float:
        leaving = simmer_evaporation_kg_h(
            surface_c=surface_c,
            inner_diameter_m=inner_diameter_m,
            air_c=air_c,
            humidity_share=humidity_share,
            altitude_m=altitude_m,
            flux_factor=flux_factor,
        )
        return heat_kw - hold_power_kw(
            evaporation_kg_h=leaving, surface_c=surface_c, loss_w_k=loss_w_k, air_c=air_c, efficiency_share=1.0
        )

    if spare_kw(high) >= 0.0:
        return boil
    if spare_kw(low) <= 0.0:
        return low
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if spare_kw(middle) > 0.0 else (low, middle)
    return (low + high) / 2.0
