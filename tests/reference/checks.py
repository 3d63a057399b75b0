"""One outside check: what is computed, what is expected, how near, and who says so."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

COOLPROP = "CoolProp 8.0.0 (IAPWS-95), evaluated once"
CHOI_OKOS = "Choi and Okos 1986; coefficients equal to CoolProp's built-in food components"
ENERGY = "energy balance, evaluated by a second program"
MASS = "mass balance, evaluated by a second program"
ARITHMETIC = "arithmetic by hand"
SECOND_PROGRAM = "same law, evaluated by a second program"


@dataclass(frozen=True)
class Check:
    name: str
    value: Callable[..., float]
    expected: float
    tolerance: float
    source: str


def every(checks: list[Check]) -> pytest.MarkDecorator:
    assert len({each.name for each in checks}) == len(checks)
    assert all(each.source for each in checks)
    return pytest.mark.parametrize("check", checks, ids=[each.name for each in checks])


def holds(check: Check) -> None:
    assert check.value() == pytest.approx(check.expected, rel=0.0, abs=check.tolerance), check.source


def fahrenheit(temp_f: float) -> float:
    return (temp_f - 32.0) / 1.8
