"""Checks of thermometers and limits of cold keeping, against published values."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.domain.records.receiving import RECEIVING
from production.domain.records.storage_temps import STORING
from production.domain.records.thermometers import MOST_OFF_C, MOST_OFF_F, allowed_off, check_target

# Boiling point of water by altitude: standard atmosphere p = 101325 (1 - 2.25577e-5 h)^5.25588 Pa (ISO 2533) and the
# saturation curve of IAPWS-IF97, worked out apart from this program. Metres, Celsius, Fahrenheit.
BOILING = (
    (0, "99.97", "211.95"),
    (150, "99.48", "211.06"),
    (300, "98.98", "210.16"),
    (500, "98.31", "208.96"),
    (1000, "96.65", "205.97"),
    (1500, "94.98", "202.97"),
    (1609, "94.62", "202.32"),
    (2000, "93.32", "199.97"),
    (2500, "91.64", "196.96"),
    (3000, "89.97", "193.95"),
)


@pytest.mark.parametrize(("altitude_m", "boil_c", "boil_f"), BOILING)
def test_water_boils_colder_the_higher_the_kitchen_lies(altitude_m: float, boil_c: str, boil_f: str) -> None:
    for unit, wanted, close in (("C", boil_c, "0.01"), ("F", boil_f, "0.02")):
        found = check_target(method="boiling", unit=unit, altitude_m=altitude_m)  # type: ignore[arg-type]
        assert abs(found - Decimal(wanted)) <= Decimal(close)


@pytest.mark.parametrize("altitude_m", [0.0, 1609.0, 3000.0])
def test_ice_melts_at_the_same_temperature_everywhere(altitude_m: float) -> None:
    assert check_target(method="ice", unit="C", altitude_m=altitude_m) == 0
    assert check_target(method="ice", unit="F", altitude_m=altitude_m) == 32


def test_a_measured_air_pressure_goes_before_the_altitude() -> None:
    # 1 bar: 99.61 C by IAPWS-IF97 (saturation at 0.1 MPa is 372.755 919 K in its table 36, from memory).
    assert check_target(method="boiling", unit="C", altitude_m=3000.0, pressure_hpa=1000.0) == Decimal("99.61")


def test_tolerances_are_those_of_the_food_code() -> None:
    """FDA Food Code 4-203.11, read as adopted by California (HSC 114159)."""

    def allowed(unit: str, shown: str, *, both: bool) -> Decimal:
        return allowed_off(
            shown_unit=shown,  # type: ignore[arg-type]
            unit=unit,  # type: ignore[arg-type]
            both_scales=both,
            most_off_c=MOST_OFF_C,
            most_off_f=MOST_OFF_F,
        )

    assert allowed("C", "C", both=False) == 1
    assert allowed("F", "F", both=False) == 2
    assert allowed("F", "F", both=True) == Decimal("1.8")  # both scales: the narrower 1 C
    assert allowed("C", "F", both=True) == Decimal("1.8")


def test_what_is_cold_is_received_and_kept_at_41_f_or_colder() -> None:
    """FDA Food Code 3-202.11(A), from memory, and 3-501.16(A), read as adopted in Delaware: 41 F = 5 C exactly."""
    assert RECEIVING["chilled"].most_c == STORING["chilled"].most_c == 5
    assert Decimal(5) * Decimal("1.8") + 32 == 41


def test_frozen_food_may_be_three_kelvin_warmer_than_minus_18_for_short_times() -> None:
    """Directive 89/108/EEC, articles 1 and 5, from memory."""
    assert RECEIVING["frozen"].most_c == STORING["frozen"].most_c == Decimal(-18) + 3
