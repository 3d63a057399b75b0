"""Hot litres of what is drawn, as kilograms and as cold litres, against the densities of water."""

from __future__ import annotations

import pytest

from production.domain.formula import Draw
from production.domain.records.course_draws import Drawn, drawn_from
from tests.reference.checks import COOLPROP, Check, every, holds

RHO_95, RHO_80, RHO_60, RHO_4 = 961.888, 971.790, 983.196, 999.975  # kg/m3, CoolProp 8.0.0 (IAPWS-95)


def of_water(hot_l: float, hot_c: float) -> Drawn:
    water = Draw(mass_kg=hot_l, cold_l=hot_l, hot_l=hot_l, hot_c=hot_c, solids_percent=0.0, solids_bx=0.0)
    return drawn_from({"volume": hot_l, "temp": hot_c}, expected=water, brix_bx=None, per_bx_share=0.78)


@every(
    [
        Check("40 L at 95 degC weigh", lambda: of_water(40.0, 95.0).mass_kg, 0.040 * RHO_95, 0.02, COOLPROP),
        Check("40 L at 95 degC are cold", lambda: of_water(40.0, 95.0).cold_l, 40.0 * RHO_95 / RHO_4, 0.02, COOLPROP),
        Check("40 L at 80 degC weigh", lambda: of_water(40.0, 80.0).mass_kg, 0.040 * RHO_80, 0.02, COOLPROP),
        Check("40 L at 60 degC are cold", lambda: of_water(40.0, 60.0).cold_l, 40.0 * RHO_60 / RHO_4, 0.02, COOLPROP),
    ]
)
def test_hot_water(check: Check) -> None:
    holds(check)


def test_hot_stock_shrinks_by_less_than_four_percent_when_it_cools() -> None:
    """3.8 % from 95 to 4 degC, by the same densities."""
    assert 1.0 - of_water(40.0, 95.0).cold_l / 40.0 == pytest.approx(0.038, abs=0.001)
