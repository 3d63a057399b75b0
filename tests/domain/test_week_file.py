"""The week file is read and written without loss, in one canonical form, by one schema."""

from __future__ import annotations

import json
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from production.domain.kitchen import Week
from production.domain.thermal.properties import boiling_point_c
from production.domain.week_file import dump_week, dumps_week, parse_week, week_schema
from production.domain.week_file.layout import NOUN_OF, PLACE_OF, pointer, spoken_place
from tests.builders import a_kitchen, a_line, a_pot, a_product, a_week, at, small_kitchen

FIXTURES = Path(__file__).parents[2] / "fixtures"
WEEKS = ("demo_week.json", "impossible_week.json")

names = st.text(st.characters(exclude_categories=("Cc", "Cs")), min_size=1, max_size=60).filter(
    lambda text: text.strip()
)
amounts = st.decimals(min_value=0, max_value=100000, places=2)
moments = st.integers(1, 10 * 24 * 3600).map(lambda seconds: at("2027-01-30 10:00") + timedelta(seconds=seconds))


@pytest.mark.parametrize("name", WEEKS)
def test_a_fixture_is_valid_and_in_canonical_form(name: str) -> None:
    content = (FIXTURES / name).read_bytes()
    assert dumps_week(parse_week(content)).encode() == content


@pytest.mark.parametrize("name", WEEKS)
def test_a_fixture_agrees_with_the_committed_schema(name: str) -> None:
    schema = json.loads((FIXTURES / "week-file.schema.json").read_text(encoding="utf-8"))
    document = json.loads((FIXTURES / name).read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(document)) == []


def test_the_committed_schema_is_the_generated_one() -> None:
    written = json.dumps(week_schema(), ensure_ascii=False, indent=1) + "\n"
    assert (FIXTURES / "week-file.schema.json").read_text(encoding="utf-8") == written


def test_the_schema_is_a_valid_schema_that_names_its_version() -> None:
    Draft202012Validator.check_schema(week_schema())
    assert week_schema()["$id"] == "urn:potwright:week:1"
    assert week_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_every_property_of_the_schema_is_described() -> None:
    schema = week_schema()
    objects = [schema, *schema["properties"].values(), *schema["$defs"].values()]
    listed = [(name, made) for each in objects for name, made in each.get("properties", {}).items()]
    assert [name for name, made in listed if not made.get("description")] == []
    quantities = [made for _, made in listed if made.get("unit") not in (None, "money")]
    assert len(quantities) > 50
    assert all(made["description"].endswith(f"[{made['unit']}]") for made in quantities)


def test_every_field_of_a_week_has_its_place_in_the_file() -> None:
    assert set(PLACE_OF) == {described.name for described in fields(Week)}
    assert set(NOUN_OF) == set(PLACE_OF) - {"starts_on", "days", "plan_from"}
    assert len(set(PLACE_OF.values())) == len(PLACE_OF)


@pytest.mark.parametrize(
    "week", [a_week(), small_kitchen(), small_kitchen(ice_machine=None)], ids=["full", "no orders", "no ice"]
)
def test_a_week_survives_writing_and_reading(week: Week) -> None:
    assert parse_week(dumps_week(week).encode()) == week


@settings(max_examples=40, deadline=None)
@given(
    altitude_m=st.floats(-100, 4000),
    kitchen_name=names,
    mass_kg=st.floats(5, 100),
    value=amounts,
    leaves=moments,
    weight=st.floats(0.1, 100),
    containers=st.integers(1, 10000),
    tray=st.none() | st.just("cube-30"),
)
def test_any_valid_week_survives_writing_and_reading(
    altitude_m: float,
    kitchen_name: str,
    mass_kg: float,
    value: Decimal,
    leaves: datetime,
    weight: float,
    containers: int,
    tray: str | None,
) -> None:
    week = small_kitchen()
    week = replace(
        week,
        kitchen=a_kitchen(altitude_m=altitude_m, name=kitchen_name),
        pots=(a_pot(mass_kg=mass_kg), *week.pots[1:]),
        products=(a_product(value=value, cube_tray=tray), *week.products[1:]),
        order_lines=(a_line(dispatch_at=leaves, weight=weight, containers=containers),),
    )
    text = dumps_week(week)
    assert parse_week(text.encode()) == week
    assert dumps_week(parse_week(text.encode())) == text


def test_equal_weeks_are_written_alike_whatever_offset_their_moments_carry() -> None:
    utc = a_week()
    shifted = replace(utc, plan_from=utc.plan_from.astimezone(timezone(timedelta(hours=9))))
    assert dumps_week(utc) == dumps_week(shifted)
    assert dump_week(utc)["plan"]["plan_from"] == "2027-01-30T10:00:00-07:00"


def test_a_moment_in_the_repeated_hour_of_autumn_keeps_its_offset() -> None:
    content = json.dumps(
        {
            **dump_week(small_kitchen()),
            "plan": {"starts_on": "2027-11-01", "days": 7, "plan_from": "2027-10-31T10:00:00-06:00"},
            "people": {
                "people": [{"code": "ana", "name": "Ana"}],
                "shifts": [{"person": "ana", "start": "2027-11-07T01:30:00-06:00", "end": "2027-11-07T01:30:00-07:00"}],
            },
        }
    ).encode()
    week = parse_week(content)
    assert week.shifts[0].end - week.shifts[0].start == timedelta(hours=1)
    assert dump_week(week)["people"]["shifts"][0]["end"] == "2027-11-07T01:30:00-07:00"


def test_money_is_written_with_two_decimals_and_read_from_whole_numbers_too() -> None:
    document = dump_week(a_week())
    document["catalogue"]["offers"][0]["price"] = 14
    week = parse_week(json.dumps(document).encode())
    assert week.offers[0].price == Decimal("14.00")
    assert dump_week(week)["catalogue"]["offers"][0]["price"] == "14.00"


def test_what_has_a_default_may_be_left_out() -> None:
    document = dump_week(a_week())
    document["kitchen"]["tasks"] = {}
    for pot in document["equipment"]["pots"]:
        del pot["min_fill_share"], pot["outages"], pot["formulas"]
    for line in document["orders"]["lines"]:
        line.pop("weight")
    document["catalogue"]["formulas"][1]["second_draw"] = None
    del document["plan"]["days"]
    week = parse_week(json.dumps(document).encode())
    assert week.pots == a_week().pots
    assert week.order_lines[3].weight == 1.0
    assert week.kitchen.tasks.load_min == 20.0
    assert week.days == 7


def test_a_byte_order_mark_is_no_hindrance() -> None:
    assert parse_week(b"\xef\xbb\xbf" + dumps_week(a_week()).encode()) == a_week()


US_UNITS: dict[tuple[str | int, ...], tuple[str, float]] = {
    ("kitchen", "altitude_m"): ("1000 ft", 304.8),
    ("kitchen", "room_temp_c"): ("72.5 F", 22.5),
    ("kitchen", "tasks", "load_min"): ("1/2 h", 30.0),
    ("equipment", "pots", 0, "inner_diameter_mm"): ("20 in", 508.0),
    ("equipment", "pots", 0, "mass_kg"): ("33 lb 4 oz", 33.25 * 0.45359237),
    ("equipment", "pots", 0, "min_fill_share"): ("40 %", 0.4),
    ("equipment", "containers", 1, "brim_l"): ("6 qt", 6 * 0.946352946),
    ("equipment", "cube_trays", 0, "cell_ml"): ("1 fl oz", 29.5735295625),
    ("equipment", "ice_machine", "make_kg_per_day"): ("400 lb/day", 400 * 0.45359237),
    ("catalogue", "formulas", 0, "simmer_below_boil_k"): ("9 F", 5.0),
    ("catalogue", "formulas", 0, "simmer_min_h"): ("200 min", 200 / 60),
    ("catalogue", "products", 0, "net_l"): ("5 qt", 5 * 0.946352946),
    ("catalogue", "offers", 0, "pack_kg"): ("20 lb", 20 * 0.45359237),
}


def _put(document: Any, path: tuple[str | int, ...], value: object) -> None:
    for step in path[:-1]:
        document = document[step]
    document[path[-1]] = value


def _flat(value: Any) -> list[Any]:
    if is_dataclass(value):
        return [leaf for described in fields(value) for leaf in _flat(getattr(value, described.name))]
    return [leaf for entry in value for leaf in _flat(entry)] if isinstance(value, tuple) else [value]


def test_us_units_give_the_same_week_as_metric_ones() -> None:
    typed, metric = dump_week(a_week()), dump_week(a_week())
    typed["equipment"]["containers"][1]["height_mm"] = metric["equipment"]["containers"][1]["height_mm"] = 200
    for path, (text, number) in US_UNITS.items():
        _put(typed, path, text)
        _put(metric, path, number)
    from_typed, from_metric = (_flat(parse_week(json.dumps(each).encode())) for each in (typed, metric))
    assert len(from_typed) == len(from_metric)
    for ours, theirs in zip(from_typed, from_metric, strict=True):
        assert ours == (pytest.approx(theirs, rel=1e-12) if isinstance(theirs, float) else theirs)


@pytest.mark.parametrize(
    ("path", "written"),
    [((), ""), (("a/b", 0), "/a~1b/0"), (("m~n",), "/m~0n"), (("plan", "days"), "/plan/days")],
)
def test_a_pointer_escapes_slashes_and_tildes(path: tuple[str | int, ...], written: str) -> None:
    assert pointer(path) == written


@pytest.mark.parametrize(
    ("path", "name"),
    [
        (("equipment", "pots", 1, "mass_kg"), "Pot 'wide', mass_kg"),
        (("people", "shifts", 2, "end"), "Shift no. 3, end"),
        (("catalogue", "formulas", 0, "solids", 1, "share"), "Formula 'poultry', solids no. 2, share"),
        (("equipment", "ice_machine", "bin_kg"), "Ice machine, bin_kg"),
        (("parameters", 0, "low"), "Own coefficient 'evaporation.simmer_flux_scale', low"),
        (("plan", "days"), "File, plan, days"),
        ((), "File"),
        (("equipment", "pots", 99, "mass_kg"), "Pot no. 100, mass_kg"),
    ],
)
def test_a_place_is_named_as_a_person_would(path: tuple[str | int, ...], name: str) -> None:
    assert spoken_place(path, dump_week(a_week())) == name


def test_the_moment_of_planning_is_kept_in_utc() -> None:
    week = parse_week(dumps_week(a_week()).encode())
    assert week.plan_from.tzinfo is UTC
    assert week.plan_from == at("2027-01-30 10:00")


def demo() -> Week:
    return parse_week((FIXTURES / "demo_week.json").read_bytes())


def test_the_demo_kitchen_is_as_large_as_it_should_be() -> None:
    week = demo()
    assert len(week.outlets) == len({outlet.kind for outlet in week.outlets}) == 9
    assert len(week.pots) == 6
    assert len(week.heat_supplies) == 2
    assert len(week.formulas) == 5
    assert len(week.products) == 12
    assert len(week.people) == 4
    assert len(week.suppliers) == 4
    assert len(week.order_lines) >= 60
    assert len({line.dispatch_at.date() for line in week.order_lines}) == 5
    assert [device.kind for device in week.cooling_devices] == ["ice_sink", "ice_sink", "blast_chiller"]
    assert {product.kind for product in week.products} == {"broth", "reduction", "cubes"}


def test_water_in_the_demo_kitchen_boils_visibly_below_a_hundred_degrees() -> None:
    assert 94.0 < boiling_point_c(altitude_m=demo().kitchen.altitude_m) < 96.0


def test_every_ingredient_of_the_demo_kitchen_can_be_bought() -> None:
    week = demo()
    assert {offer.ingredient for offer in week.offers} == {ingredient.code for ingredient in week.ingredients}


def test_every_formula_of_the_demo_kitchen_is_ordered_and_uses_its_own_solids() -> None:
    week = demo()
    formula_of = {product.code: product.formula for product in week.products}
    assert {formula_of[line.product] for line in week.order_lines} == {formula.code for formula in week.formulas}
    fillings = [{(solid.role, solid.ingredient) for solid in formula.solids} for formula in week.formulas]
    assert sum(len(filling) for filling in fillings) == len(set().union(*fillings))


def test_only_formulas_that_use_celery_or_fish_bring_those_allergens_in_the_demo_kitchen() -> None:
    week = demo()
    allergens = {ingredient.code: ingredient.allergens for ingredient in week.ingredients}
    brought: dict[str, set[str]] = {}
    for formula in week.formulas:
        used = [solid.ingredient for solid in formula.solids] + [late.ingredient for late in formula.additions]
        brought[formula.code] = {allergen for code in used for allergen in allergens[code]}
    assert brought == {"poultry": set(), "pork": set(), "veal": {"celery"}, "fish": {"fish"}, "vegetable": set()}
