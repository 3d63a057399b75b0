"""Advice in words."""

from __future__ import annotations

import math

from production.domain.records.advice_content import Advice, Spelling


def advice_sentence(advice: Advice, *, target_c: float, spelling: Spelling) -> str:
    """Advice in words for a cook.

    Equation: what to do; then the target, when it is reached, and the minutes before or after the limit. Ice is rounded
        up to whole kilograms, depth and minutes to spare down, minutes too late up.
    Units: advice (record; [min], [kg], [mm]), target_c [degC], spelling (functions); returns a sentence.
    Valid: every advice.
    Errors: none.
    Source: own definition.
    """
    return f"{_what_to_do(advice, spelling)}: {_what_comes_of_it(advice, target_c, spelling)}."


def _what_to_do(advice: Advice, spelling: Spelling) -> str:
    ice = spelling.mass(float(math.ceil(advice.ice_kg)))
    if advice.code == "stir":
        return "Stir now and keep stirring" + _if_liquid(advice)
    if advice.code == "add_ice":
        return f"Add {ice} of ice now" + (" and stir" + _if_liquid(advice) if advice.stir else "")
    pans = "1 vessel" if advice.vessels == 1 else f"{advice.vessels} vessels"
    into = f"{pans}, {spelling.depth(float(math.floor(advice.depth_mm)))} deep"
    into += f", with {ice} of ice" if advice.ice_kg else ""
    return f"Split into {into}" if advice.code == "split" else f"Move to {advice.device_name} in {into}"


def _if_liquid(advice: Advice) -> str:
    """It may have set already; the cook sees it."""
    return " as long as it is liquid" if advice.cls == "C" else ""


def _what_comes_of_it(advice: Advice, target_c: float, spelling: Spelling) -> str:
    if not math.isfinite(advice.predicted_min):
        return f"it may never reach {spelling.temp(target_c)}"
    told = f"{spelling.temp(target_c)} at {spelling.clock(advice.predicted_min)}"
    if advice.makes_it:
        return f"{told}, {math.floor(advice.margin_min)} min before the limit"
    return f"{told}, {math.ceil(-advice.margin_min)} min too late"
