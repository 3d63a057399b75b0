"""The coefficients: complete, honest about where they come from, and never changed in place."""

from __future__ import annotations

import pytest

from production.domain.errors import OutOfRange, UnknownParameter
from production.domain.parameters import DEFAULT_PARAMETERS, MATERIAL_FIELDS, Parameter, ParameterSet

MATERIALS = {
    "beef_bones", "veal_bones", "pork_bones", "pork_feet", "poultry_frames", "poultry_feet", "collagen_meat",
    "lean_meat", "fish_frames", "vegetable_root", "vegetable_bulb", "vegetable_stalk", "mushroom", "tomato_paste",
    "herb_spice",
}  # fmt: skip


def test_every_material_has_every_coefficient_and_its_parts_add_up() -> None:
    assert set(DEFAULT_PARAMETERS.materials()) == MATERIALS
    for code in MATERIALS:
        it = DEFAULT_PARAMETERS.material(code)
        parts = it.water_share + it.protein_share + it.lipid_share + it.ash_share
        assert parts + it.carbohydrate_share + it.fibre_share == pytest.approx(1.0, abs=1e-9), code
        assert it.soluble_share + it.fat_share + it.water_net_share - it.cling_share < 1.0
        assert it.soluble_share < 1.0 - it.water_share + 1e-9
        assert len(MATERIAL_FIELDS) == 15


def test_every_coefficient_says_where_it_comes_from_and_how_sure_it_is() -> None:
    for each in DEFAULT_PARAMETERS.parameters:
        assert each.source, each.code
        assert (each.cls in ("A", "B", "C"), each.n) == (True, 0), each.code
        assert each.low <= each.value <= each.high
        assert DEFAULT_PARAMETERS.low(each.code) == each.low
        assert DEFAULT_PARAMETERS.high(each.code) == each.high


def test_every_material_has_a_trim_yield() -> None:
    for code in MATERIALS:
        assert 0.5 < DEFAULT_PARAMETERS.value(f"trim.{code}_share") <= 1.0


def test_new_values_make_a_new_set() -> None:
    code = "evaporation.simmer_flux_scale"
    changed = DEFAULT_PARAMETERS.with_values({code: 3.0}, version="own-2")
    assert (changed.version, changed.value(code), changed.high(code)) == ("own-2", 3.0, 3.0)
    assert DEFAULT_PARAMETERS.value(code) == 1.0
    assert DEFAULT_PARAMETERS.with_values({}) == DEFAULT_PARAMETERS


def test_unknown_coefficients_and_materials_are_refused() -> None:
    with pytest.raises(UnknownParameter, match=r"no coefficient 'pot\.colour'"):
        DEFAULT_PARAMETERS.value("pot.colour")
    with pytest.raises(UnknownParameter):
        DEFAULT_PARAMETERS.with_values({"pot.colour": 1.0})
    with pytest.raises(UnknownParameter, match="no material 'stone'") as refusal:
        DEFAULT_PARAMETERS.material("stone")
    assert "beef_bones" in refusal.value.remedy


def test_a_value_outside_its_own_interval_is_refused() -> None:
    with pytest.raises(OutOfRange):
        Parameter("x", 2.0, "kg", "A", 0, "own", 0.0, 1.0)


def test_a_set_that_names_a_coefficient_twice_is_refused() -> None:
    one = Parameter("x", 0.5, "kg", "A", 0, "own", 0.0, 1.0)
    with pytest.raises(UnknownParameter, match="twice"):
        ParameterSet("v", (one, one))
