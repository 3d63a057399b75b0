"""A bad week file is refused with every problem at once, each with its place, what was found and what is allowed."""

from __future__ import annotations

import json
import time
import tracemalloc
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.domain.errors import BadWeekFile, Problem
from production.domain.kitchen import Week
from production.domain.week_file import LARGEST_BYTES, dump_week, dumps_week, parse_week
from tests.builders import a_week, at

Document = dict[str, Any]
Path = tuple[str | int, ...]


def problems_of(content: bytes | Document) -> dict[str, Problem]:
    if not isinstance(content, bytes):
        content = json.dumps(content).encode()
    with pytest.raises(BadWeekFile) as refused:
        parse_week(content)
    found = {problem.pointer: problem for problem in refused.value.problems}
    assert all(problem.found and problem.allowed and problem.sentence for problem in found.values())
    return found


def put(document: Any, path: Path, value: object) -> None:
    for step in path[:-1]:
        document = document[step]
    document[path[-1]] = value


def pointer_to(path: Path) -> str:
    return "".join(f"/{step}" for step in path)


E = ("equipment",)
C = ("catalogue",)
# what is wrong, where it is put, what is put there, words of the sentence
SPOILED: list[tuple[str, Path, object, str]] = [
    # wrong types
    ("a flag for a quantity", (*E, "pots", 0, "mass_kg"), True, "0.5 to 800 kg"),
    ("a list for a quantity", (*E, "pots", 0, "mass_kg"), [1], "a list of 1"),
    ("nothing for a quantity", (*E, "pots", 0, "mass_kg"), None, "nothing (null)"),
    ("a text for a count", ("orders", "lines", 0, "containers"), "six", "a whole number from 1 to 10000"),
    ("half a day", (*C, "products", 0, "shelf_life_days"), 2.5, "a whole number"),
    ("a word for a flag", ("kitchen", "unattended_simmer"), "yes", "true or false"),
    ("a number for a name", ("kitchen", "name"), 7, "a text of 1 to 120 characters"),
    ("an empty name", ("kitchen", "name"), "  ", "a text of 1 to 120 characters"),
    ("a group for a list", (*C, "products"), {}, "a list of 0 to 20000"),
    ("a list for a group", ("kitchen",), [], "a group of fields"),
    ("a number for a pot", (*E, "pots", 1), 5, "a group of fields"),
    ("a text for a coefficient", ("parameters", 0, "value"), "0.9", "a number"),
    ("an unknown word", ("kitchen", "units"), "imperial", "metric, us"),
    ("a day without zeros", ("plan", "starts_on"), "2027-2-1", "a day, for instance 2027-02-01"),
    ("a day that does not exist", ("plan", "starts_on"), "2027-02-30", "not a day of the calendar"),
    ("a year far away", ("stock", "lots", 0, "use_by"), "9999-12-31", "outside the years 2000 to 2099"),
    ("a moment without offset", ("plan", "plan_from"), "2027-01-30T10:00:00", "with its offset from UTC"),
    ("a moment that does not exist", ("plan", "plan_from"), "2027-01-30T25:00:00Z", "not a moment of the calendar"),
    ("a clock of 24 hours and more", (*C, "suppliers", 0, "order_by"), "24:30", "a time of day"),
    ("weekday nought", (*C, "suppliers", 0, "delivers_on", 0), 0, "a whole number from 1 to 7"),
    ("a weekday twice", (*C, "suppliers", 0, "delivers_on"), [1, 1], "names something twice"),
    ("no weekday", (*C, "suppliers", 0, "delivers_on"), [], "has too few entries"),
    ("a code with spaces", (*E, "pots", 0, "code"), "my pot", "a code of 1 to 40 letters"),
    ("a formula without solids", (*C, "formulas", 0, "solids"), [], "has too few entries"),
    ("money as a broken number", (*C, "offers", 0, "price"), 12.5, "at most two decimals"),
    ("money with three decimals", (*C, "offers", 0, "price"), "12.505", "at most two decimals"),
    ("money beyond reason", (*C, "offers", 0, "price"), "999999.00", "lies outside 0 to 100000"),
    ("an allergen nobody knows", (*C, "ingredients", 0, "allergens"), ["dust"], "celery"),
    # negative, absurd, wrong dimension
    ("a negative quantity", (*E, "pots", 0, "inner_height_mm"), -510, "is too small"),
    ("a negative text quantity", (*E, "pots", 0, "inner_height_mm"), "-20 in", "too small"),
    ("an absurd quantity", (*E, "pots", 0, "inner_height_mm"), 51000, "is too large"),
    ("an absurd altitude in feet", ("kitchen", "altitude_m"), "20000 ft", "6096 m, which is too large"),
    ("a volume for a length", (*E, "pots", 0, "inner_height_mm"), "60 qt", "does not measure the same thing"),
    ("a mass for a volume", (*C, "products", 0, "net_l"), "5 kg", "does not measure the same thing"),
    ("a weight ounce for a volume", (*C, "products", 0, "net_l"), "16 oz", "fl oz"),
    ("a comma in a number", (*C, "products", 0, "net_l"), "1,5 L", "comma"),
    ("a quantity nobody can read", (*C, "products", 0, "net_l"), "plenty", "no number was found"),
    ("an unknown unit", (*C, "products", 0, "net_l"), "3 buckets", "not known here"),
    ("too many containers", ("orders", "lines", 0, "containers"), 10001, "is too large"),
    # references and repetition
    ("an unknown product", ("orders", "lines", 0, "product"), "poultry-55", "Did you mean 'poultry-5'?"),
    ("an unknown outlet", ("orders", "lines", 0, "outlet"), "moon", "outlet 'moon' is unknown"),
    ("an unknown ingredient", (*C, "formulas", 0, "solids", 0, "ingredient"), "stones", "is unknown"),
    ("an unknown formula of a pot", (*E, "pots", 0, "formulas"), ["poultry", "lamb"], "formulas 'lamb' is unknown"),
    ("a code twice", (*E, "pots", 1, "code"), "tall", "is there already"),
    ("an order line twice", ("orders", "lines", 1, "code"), "L1", "is there already"),
    # kitchen and equipment
    ("an unknown time zone", ("kitchen", "time_zone"), "Mars/Olympus", "time zone 'Mars/Olympus' is unknown"),
    ("a time zone that is a folder", ("kitchen", "time_zone"), "America", "is unknown"),
    ("a time zone that is a path", ("kitchen", "time_zone"), "../../etc/passwd", "is unknown"),
    ("a currency that is none", ("kitchen", "currency"), "us$", "is not a currency code"),
    ("an unknown cooling rule", ("kitchen", "cooling_rule"), "FAST", "FAST"),
    ("a cooling rule without minutes", ("kitchen", "cooling_rule"), "EU_852", "states no minutes"),
    ("a burner beyond its supply", (*E, "heat_sources", 0, "input_kw"), 41, "its supply gives only 40 kW"),
    ("a gas burner on electricity", (*E, "heat_sources", 0, "supply"), "mains", "runs on gas"),
    ("a pot smaller than its least fill", (*E, "pots", 0, "min_fill_share"), 0.9, "smaller than its contents"),
    ("a pot of lead", (*E, "pots", 0, "mass_kg"), 700, "does not weigh 700 kg"),
    ("a container smaller than its product", (*C, "products", 0, "net_l"), 6, "do not fit into container 'tub-5'"),
    ("a vessel smaller than its fill", (*E, "cooling_devices", 0, "vessel_fill_l"), "15.5 L", "do not fit"),
    ("a container larger inside", (*E, "containers", 0, "brim_l"), 3.5, "but measures only 3.06 L outside"),
    ("a round container of two widths", (*E, "containers", 0, "width_mm"), 190, "is round"),
    ("a chiller without its rating", (*E, "cooling_devices", 1, "rated_min"), None, "a blast chiller needs rated_min"),
    # people
    ("a shift that ends first", ("people", "shifts", 0, "end"), "2027-02-01T05:00:00-07:00", "ends before it starts"),
    ("a shift without end", ("people", "shifts", 0, "end"), "2027-02-01T23:30:00-07:00", "nobody works 17.5 h"),
    ("two shifts at once", ("people", "shifts", 1, "person"), "ana", "is still on the shift before"),
    # catalogue
    ("an unknown material", (*C, "ingredients", 0, "material"), "granite", "the material 'granite' is unknown"),
    ("fish without its allergen", (*C, "ingredients", 2, "allergens"), [], "must name the allergen fish"),
    ("shares that do not add up", (*C, "formulas", 1, "solids", 0, "share"), 0.9, "add up to 0.9, not to 1"),
    (
        "a role its ingredient does not list",
        (*C, "formulas", 0, "solids", 0, "role"),
        "scrap",
        "does not list the role",
    ),
    ("a simmer window upside down", (*C, "formulas", 0, "simmer_max_h"), 2, "is shorter than the shortest"),
    (
        "a second simmer upside down",
        (*C, "formulas", 0, "second_draw", "simmer_max_h"),
        1,
        "is shorter than the shortest",
    ),
    (
        "an addition before the simmer",
        (*C, "formulas", 0, "additions", 0, "minutes_before_end"),
        400,
        "at most 360 min",
    ),
    ("life longer than shelf life", (*C, "products", 0, "life_at_dispatch_days"), 7, "keeps only 6 days"),
    ("a glaze without a second draw", (*C, "products", 1, "formula"), "fish", "has no second draw"),
    ("cubes without a tray", (*C, "products", 2, "cube_tray"), None, "cubes need a cube_tray"),
    ("cubes that are not the litres", (*C, "products", 2, "cubes_per_container"), 40, "40 cubes of this tray"),
    # stock and orders
    (
        "a use-by before the day of making",
        ("stock", "lots", 0, "use_by"),
        "2027-01-28",
        "lies before the day it was made",
    ),
    ("a use-by beyond the shelf life", ("stock", "lots", 0, "use_by"), "2027-02-04", "beyond its shelf life of 6 days"),
    ("a lot from the future", ("stock", "lots", 0, "made_on"), "2027-01-31", "will only be made on"),
    ("a chilled lot in the freezer", ("stock", "lots", 0, "store"), "freezer", "stands in a frozen store"),
    ("bones saved too late", ("stock", "saved_bones", 0, "saved_on"), "2027-04-01", "will only be saved"),
    ("a dispatch in the past", ("orders", "lines", 0, "dispatch_at"), "2027-01-30T09:59:00-07:00", "is in the past"),
    (
        "a dispatch after the week",
        ("orders", "lines", 0, "dispatch_at"),
        "2027-02-11T00:00:00-07:00",
        "after the planned",
    ),
    ("planning after the week", ("plan", "plan_from"), "2027-02-08T08:00:00-07:00", "does not belong to the week"),
    # own coefficients
    ("an unknown coefficient", ("parameters", 0, "code"), "heat.hope", "heat.hope"),
    ("a value outside its interval", ("parameters", 0, "value"), 1.1, "lies outside its own interval"),
]

# Where the problem is told when it is not the very field that was spoiled.
TOLD_AT = {
    "shares that do not add up": "/catalogue/formulas/1/solids",
    "a role its ingredient does not list": "/catalogue/formulas/0/solids/0/ingredient",
    "an allergen nobody knows": "/catalogue/ingredients/0/allergens/0",
    "cubes that are not the litres": "/catalogue/products/2/net_l",
    "bones saved too late": "/stock/saved_bones/0/saved_on",
    "two shifts at once": "/people/shifts/1/start",
}


@pytest.mark.parametrize(("what", "path", "value", "words"), SPOILED, ids=[row[0] for row in SPOILED])
def test_a_single_mistake_is_told_at_its_place(what: str, path: Path, value: object, words: str) -> None:
    document = dump_week(a_week())
    put(document, path, value)
    found = problems_of(document)
    told_at = TOLD_AT.get(what, pointer_to(path))
    assert told_at in found
    assert words in found[told_at].sentence


def test_a_frozen_product_without_a_freezer_is_told() -> None:
    document = dump_week(a_week())
    del document["equipment"]["stores"][1]
    assert "there is no frozen store" in problems_of(document)["/catalogue/products/2/storage"].sentence


def test_a_frozen_tub_needs_room_for_the_ice() -> None:
    document = dump_week(a_week())
    document["catalogue"]["products"][0].update(storage="frozen", net_l=5.5)
    document["stock"]["lots"][0]["store"] = "freezer"
    found = problems_of(document)
    assert list(found) == ["/catalogue/products/0/net_l"]
    assert "freezing needs 10% of free room" in found["/catalogue/products/0/net_l"].sentence


def test_a_coefficient_of_the_kitchen_own_counts_in_the_checks() -> None:
    document = dump_week(a_week())
    document["equipment"]["pots"][0]["min_fill_share"] = 0.84
    assert parse_week(json.dumps(document).encode())
    document["parameters"].append(
        {
            "code": "pot.freeboard_simmer_mm",
            "value": 90,
            "confidence": "C",
            "n": 3,
            "low": 80,
            "high": 100,
            "source": "tall hood",
        }
    )
    assert "less than 90 mm of freeboard" in problems_of(document)["/equipment/pots/0/min_fill_share"].sentence


@pytest.mark.parametrize("code", ["FDA_B", "FDA_C", "FSIS_B_OPT3", "UK_CF89", "EU_852"])
def test_a_rule_that_is_not_for_cooked_broth_is_refused(code: str) -> None:
    document = dump_week(a_week())
    document["kitchen"]["cooling_rule"] = code
    problem = problems_of(document)["/kitchen/cooling_rule"]
    assert f"nothing can be planned by the rule {code}" in problem.sentence
    assert "FDA_A" in problem.allowed


@pytest.mark.parametrize(
    ("code", "value"),
    [
        ("pot.freeboard_boil_mm", -50.0),
        ("pot.freeboard_boil_mm", 60.0),  # less than the defaults' least: not on the safe side
        ("cooling.u_steel_still_w_m2_k", 2000.0),
        ("cooling.u_steel_still_w_m2_k", -5.0),
        ("cooling.chiller_depth_mm", 2000.0),
        ("cooling.bath_temp_c", -3.0),
    ],
)
def test_a_coefficient_that_is_not_on_the_safe_side_is_refused(code: str, value: float) -> None:
    document = dump_week(a_week())
    document["parameters"][0].update(code=code, value=value, low=value - 1, high=value + 1)
    assert "not on the safe side" in problems_of(document)["/parameters/0/value"].sentence


def test_a_coefficient_more_careful_than_the_default_is_taken() -> None:
    document = dump_week(a_week())
    document["parameters"][0].update(code="pot.freeboard_boil_mm", value=140, low=130, high=150)
    assert parse_week(json.dumps(document).encode()).parameters[0].value == 140.0


@pytest.mark.parametrize("mark", ["\u202e", "\u200b", "\u2066", "\ufeff"])
def test_a_mark_that_turns_or_hides_a_name_is_refused(mark: str) -> None:
    document = dump_week(a_week())
    document["equipment"]["pots"][0]["name"] = f"Big {mark}kettle"
    assert "cannot be printed" in problems_of(document)["/equipment/pots/0/name"].sentence


def test_a_share_beyond_one_is_no_coefficient() -> None:
    document = dump_week(a_week())
    document["parameters"][0].update(code="cooling.ice_use_share", value=75, low=70, high=80)
    assert "75 is not believable" in problems_of(document)["/parameters/0/value"].sentence


def test_an_outage_that_ends_before_it_starts_is_told() -> None:
    document = dump_week(a_week())
    document["equipment"]["pots"][0]["outages"] = [
        {"start": "2027-02-03T08:00:00-07:00", "end": "2027-02-03T07:00:00-07:00", "reason": "new gasket"}
    ]
    assert list(problems_of(document)) == ["/equipment/pots/0/outages/0/end"]


def test_a_kettle_may_take_steam_and_a_burner_may_not() -> None:
    document = dump_week(a_week())
    document["equipment"]["heat_supplies"][0]["kind"] = "steam"
    assert "runs on gas, its supply carries steam" in problems_of(document)["/equipment/heat_sources/0/supply"].sentence
    document["equipment"]["heat_sources"][0]["appliance"] = "gas_steam_kettle"
    assert parse_week(json.dumps(document).encode())


def test_a_missing_field_is_told_with_what_it_means() -> None:
    document = dump_week(a_week())
    del document["equipment"]["pots"][0]["mass_kg"], document["orders"]
    found = problems_of(document)
    assert set(found) == {"/equipment/pots/0/mass_kg", "/orders"}
    assert "mass of the pot" in found["/equipment/pots/0/mass_kg"].sentence


def test_a_misspelt_field_is_told_with_the_right_spelling() -> None:
    document = dump_week(a_week())
    document["equipment"]["pots"][0]["outage"] = []
    document["kitchen"]["zzz"] = 1
    found = problems_of(document)
    assert "did you mean outages?" in found["/equipment/pots/0/outage"].sentence
    assert "leave it out" in found["/kitchen/zzz"].sentence


def test_mistakes_of_all_kinds_are_told_together() -> None:
    chosen = [row for row in SPOILED if row[0] in TOGETHER]
    assert len(chosen) == len(TOGETHER)
    document = dump_week(a_week())
    for _, path, value, _ in chosen:
        put(document, path, value)
    found = problems_of(document)
    assert set(found) == {TOLD_AT.get(what, pointer_to(path)) for what, path, _, _ in chosen}


TOGETHER = (
    "a flag for a quantity",
    "a volume for a length",
    "half a day",
    "an unknown product",
    "an unknown time zone",
    "an order line twice",
    "a vessel smaller than its fill",
    "two shifts at once",
    "shares that do not add up",
    "money with three decimals",
    "a dispatch in the past",
    "a value outside its interval",
)


def test_orders_before_the_given_moment_are_in_the_past() -> None:
    content = dumps_week(a_week()).encode()
    assert parse_week(content, now=at("2027-01-01 00:00")) == a_week()
    with pytest.raises(BadWeekFile) as refused:
        parse_week(content, now=at("2027-02-03 08:00"))
    assert [problem.pointer for problem in refused.value.problems] == ["/orders/lines/1/dispatch_at"]


# --- files that are no week file at all --------------------------------------------------------------------------


def only_problem(content: bytes) -> Problem:
    with pytest.raises(BadWeekFile) as refused:
        parse_week(content)
    (problem,) = refused.value.problems
    return problem


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not JSON"),
        (b"pots: 6", "not JSON"),
        (b'{"format": "potwright-week",}', "not JSON"),
        ('{"format": "p\u00f6twright"}'.encode("latin-1").replace(b"\\u00f6", b"\xf6"), "not UTF-8"),
        ("{}".encode("utf-16"), "not UTF-8"),
        (b"[" * 100_000, "nested deeper than 12 levels"),
        (b'{"a":' * 20 + b"1" + b"}" * 20, "nested deeper than 12 levels"),
        (b"[]", "a list of 0 does not fit here"),
        (b"null", "nothing (null) does not fit here"),
        (b"NaN", "NaN"),
        (b'"a week"', "does not fit here"),
    ],
)
def test_what_is_no_week_file_is_refused_with_one_sentence(content: bytes, words: str) -> None:
    problem = only_problem(content)
    assert problem.pointer == ""
    assert words in problem.sentence


def test_a_file_of_another_version_or_kind_is_refused() -> None:
    document = dump_week(a_week())
    document.update(format="something-else", version=2)
    found = problems_of(document)
    assert found["/version"].allowed == "1"
    assert found["/format"].allowed == "'potwright-week'"


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", "9" * 5000])
def test_a_number_that_is_not_finite_is_told_at_its_place(number: str) -> None:
    content = dumps_week(a_week()).replace('"altitude_m": 300', f'"altitude_m": {number}').encode()
    found = problems_of(content)
    assert list(found) == ["/kitchen/altitude_m"]
    assert "is not a usable number" in found["/kitchen/altitude_m"].sentence


def test_a_key_written_twice_is_told() -> None:
    content = dumps_week(a_week()).replace('"altitude_m": 300', '"altitude_m": 300, "altitude_m": 1600').encode()
    found = problems_of(content)
    assert list(found) == ["/kitchen/altitude_m"]
    assert "is written twice" in found["/kitchen/altitude_m"].sentence


@pytest.mark.parametrize("character", ["\\u0000", "\\n", "\\u001b", "\\ud800"])
def test_a_character_that_cannot_be_printed_is_told(character: str) -> None:
    content = dumps_week(a_week()).replace('"Corner bistro"', f'"Corner{character}bistro"').encode()
    found = problems_of(content)
    assert list(found) == ["/orders/outlets/0/name"]
    assert "cannot be printed" in found["/orders/outlets/0/name"].sentence


def test_a_key_that_cannot_be_printed_is_told() -> None:
    document = dump_week(a_week())
    document["kitchen"]["na\x00me"] = "x"
    (problem,) = problems_of(document).values()
    assert "the key holds a character" in problem.sentence


def test_fifty_megabytes_of_nonsense_are_refused_at_once_and_with_little_memory() -> None:
    nonsense = b'{"x": [' * (50_000_000 // 7)
    tracemalloc.start()
    began = time.process_time()
    problem = only_problem(nonsense)
    took_s = time.process_time() - began
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "at most 8 MB" in problem.sentence
    assert took_s < 1.0
    assert peak_bytes < 1_000_000


@pytest.mark.long
@pytest.mark.parametrize(
    "filling",
    [
        b"[" + b'1,"a",' * 1_300_000 + b"1]",
        b"[" + b"{}," * 2_500_000 + b"{}]",
        b"[" + b"NaN," * 1_900_000 + b"1]",
    ],
    ids=["mixed", "empty groups", "endless"],
)
def test_a_large_hostile_list_is_refused_in_bounded_time(filling: bytes) -> None:
    content = dumps_week(a_week()).encode().replace(b'"formulas": []', b'"formulas": ' + filling, 1)
    assert 7_000_000 < len(content) <= LARGEST_BYTES
    began = time.process_time()
    with pytest.raises(BadWeekFile):
        parse_week(content)
    assert time.process_time() - began < 20.0  # of work, whatever else the machine does; mostly 1


def test_no_more_than_two_hundred_problems_are_listed_and_the_rest_is_counted() -> None:
    document = dump_week(a_week())
    line = document["orders"]["lines"][0]
    document["orders"]["lines"] = [{**line, "code": f"L{n}", "product": "nothing"} for n in range(350)]
    with pytest.raises(BadWeekFile) as refused:
        parse_week(json.dumps(document).encode())
    assert len(refused.value.problems) == 201
    assert refused.value.problems[-1].sentence == "And 150 further problems, not listed."


def test_beyond_two_thousand_problems_nobody_counts() -> None:
    document = dump_week(a_week())
    document["orders"]["lines"] = [1] * 5000
    with pytest.raises(BadWeekFile) as refused:
        parse_week(json.dumps(document).encode())
    assert refused.value.problems[-1].sentence == "And 1800 or more further problems, not listed."


# --- anything whatever -------------------------------------------------------------------------------------------

plain = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
anything = st.recursive(
    plain, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
)


def every_path(value: Any, path: Path = ()) -> list[Path]:
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(found for step, child in children for found in every_path(child, (*path, step)))]


PATHS = [path for path in every_path(dump_week(a_week())) if path]


def outcome(content: bytes) -> Week | tuple[Problem, ...]:
    try:
        return parse_week(content)
    except BadWeekFile as refused:
        return refused.problems


@pytest.mark.long
@settings(max_examples=300, deadline=None)
@given(changes=st.lists(st.tuples(st.sampled_from(PATHS), anything), min_size=1, max_size=3))
def test_whatever_is_put_anywhere_the_answer_is_a_week_or_a_list_of_problems(changes: list[tuple[Path, Any]]) -> None:
    document = dump_week(a_week())
    for path, value in changes:
        try:
            put(document, path, value)
        except (TypeError, KeyError, IndexError):
            continue  # an earlier change took the place away
    answer = outcome(json.dumps(document).encode())
    if isinstance(answer, tuple):
        assert answer
    else:
        assert parse_week(dumps_week(answer).encode()) == answer


@pytest.mark.long
@settings(max_examples=200, deadline=None)
@given(path=st.sampled_from(PATHS))
def test_whatever_is_left_out_the_answer_is_a_week_or_a_list_of_problems(path: Path) -> None:
    document: Any = dump_week(a_week())
    holder = document
    for step in path[:-1]:
        holder = holder[step]
    del holder[path[-1]]
    answer = outcome(json.dumps(document).encode())
    assert answer


@settings(max_examples=200, deadline=None)
@given(content=st.binary(max_size=200))
def test_arbitrary_bytes_are_refused_with_a_sentence(content: bytes) -> None:
    answer = outcome(content)
    assert isinstance(answer, tuple)
    assert answer[0].sentence
