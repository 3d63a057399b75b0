"""Every number can be opened, computed again, and asked for by name."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

import production.domain.thermal  # noqa: F401  (registers the workings)
from production.domain.errors import OutOfRange, PotwrightError
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.quantities import unit_of_name
from production.domain.thermal.balance import water_ratio_kg_kg
from production.domain.thermal.properties import boiling_point_c
from production.domain.workings import REGISTRY, Argument, Figure, compute, docstring_parts, figure, recompute, working


def test_every_name_of_a_working_and_its_arguments_ends_in_its_unit() -> None:
    assert len(REGISTRY) > 100
    for entry in REGISTRY.values():
        assert unit_of_name(entry.name) == entry.unit
        for each in entry.arguments:
            assert unit_of_name(each.name) == each.unit, f"{entry.name}.{each.name}"


def test_every_working_states_equation_validity_source_and_a_range_for_every_argument() -> None:
    for entry in REGISTRY.values():
        assert entry.summary.endswith("."), entry.name
        assert all((entry.equation, entry.valid, entry.source)), entry.name
        for each in entry.arguments:
            assert None not in (each.low, each.high), f"{entry.name}.{each.name}"
            assert _middle(each) < (each.high or 0.0), f"{entry.name}.{each.name}"


def test_every_parameter_a_working_names_exists() -> None:
    for entry in REGISTRY.values():
        for code in entry.parameters:
            assert DEFAULT_PARAMETERS.get(code).code == code


def _middle(argument: Argument) -> float:
    assert argument.low is not None
    assert argument.high is not None
    return (argument.low + argument.high) / 2.0


@pytest.mark.parametrize("name", sorted(REGISTRY))
def test_every_argument_out_of_range_is_refused_with_the_range(name: str) -> None:
    entry = REGISTRY[name]
    for argument in entry.arguments:
        for outside in (argument.low, argument.high):
            assert outside is not None
            step = 1.0 if outside == argument.high else -1.0
            inputs = {each.name: _middle(each) for each in entry.arguments}
            # Arguments are checked in the order given: the one under test comes first.
            inputs = {argument.name: outside + step, **{k: v for k, v in inputs.items() if k != argument.name}}
            with pytest.raises(OutOfRange) as refusal:
                entry.function(**inputs)
            numbers = refusal.value.numbers
            assert (numbers["working"], numbers["argument"], numbers["unit"]) == (name, argument.name, argument.unit)
            assert f"{argument.low:g}" in refusal.value.sentence


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_never_passes(value: float) -> None:
    with pytest.raises(OutOfRange):
        boiling_point_c(altitude_m=value)


def test_a_figure_keeps_how_it_came_about_and_can_be_computed_again() -> None:
    found = figure("boil", boiling_point_c, altitude_m=1600.0)
    assert found == Figure("boil", found.value, "degC", "boiling_point_c", (("altitude_m", 1600.0),), ())
    assert recompute(found) == found.value


def test_a_figure_names_the_parameters_it_was_given() -> None:
    found = figure("ratio", water_ratio_kg_kg, parameters=("pot.cover_mm",), water_kg=3.0, solids_kg=1.0)
    assert found.parameters == ("pot.cover_mm",)


def test_a_figure_of_an_unknown_working_cannot_be_computed_again() -> None:
    with pytest.raises(PotwrightError, match="no working named"):
        recompute(Figure("x", 1.0, "kg", "magic_kg", ()))


@pytest.mark.parametrize(
    "arguments",
    [
        {"altitude_m": 1584.96}, {"altitude_m": "1584.96"}, {"altitude_m": "5200 ft"}, {"altitude": "5200ft"},
        {"altitude": "1.58496 km"},
    ],
)  # fmt: skip
def test_typed_arguments_may_carry_units(arguments: dict[str, str | float]) -> None:
    assert compute("boiling_point_c", arguments).value == pytest.approx(94.70, abs=0.01)


def test_arguments_left_out_take_their_default() -> None:
    found = compute("covered_evaporation_kg_h", {"open_kg_h": 3.0, "lid_share": "10 %"})
    assert found.value == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("name", "arguments", "code"),
    [
        ("magic_kg", {}, "unknown-working"),
        ("boiling_point_c", {}, "missing-argument"),
        ("boiling_point_c", {"altitude_m": 1, "depth_mm": 1}, "unknown-argument"),
        ("boiling_point_c", {"altitude_m": 1, "altitude": "1 m"}, "repeated-argument"),
        ("boiling_point_c", {"altitude": "1600"}, "unit-missing"),
        ("boiling_point_c", {"altitude_m": "60 qt"}, "wrong-kind"),
        ("boiling_point_c", {"altitude_m": "9 km"}, "out-of-range"),
    ],
)
def test_what_cannot_be_computed_is_refused_by_name(name: str, arguments: dict[str, str | float], code: str) -> None:
    with pytest.raises(PotwrightError) as refusal:
        compute(name, arguments)
    assert refusal.value.code == code
    assert refusal.value.remedy


def test_a_function_that_breaks_the_form_is_not_registered() -> None:
    def bare_kg(*, mass_kg: float) -> float:
        return mass_kg

    def positional_kg(mass_kg: float) -> float:
        """Mass.

        Equation: m. Units: mass_kg [kg].
        Units: mass_kg [kg]; returns [kg].
        Valid: always.
        Errors: none.
        Source: definition.
        """
        return mass_kg

    with pytest.raises(TypeError, match="Equation"):
        working(cls="A", unit="kg")(bare_kg)
    with pytest.raises(TypeError, match="keyword-only"):
        working(cls="A", unit="kg")(positional_kg)
    with pytest.raises(TypeError, match="unit kg/h"):
        working(cls="A", unit="kg/h")(positional_kg)
    with pytest.raises(TypeError, match="form"):
        working(cls="A", unit="kg", ranges={"other_kg": (0.0, 1.0)})(positional_kg)
    assert "bare_kg" not in REGISTRY
    assert "positional_kg" not in REGISTRY


def test_docstrings_are_read_over_several_lines() -> None:
    parts = docstring_parts("Mass of it.\n\nEquation: a\n    + b.\nSource: none: really.")
    assert parts == {"Summary": "Mass of it.", "Equation": "a + b.", "Source": "none: really."}


def run(*arguments: str) -> str:
    out = StringIO()
    call_command("workings", *arguments, stdout=out)
    return out.getvalue()


def test_the_command_lists_every_working_with_its_units() -> None:
    listed = run()
    for name, entry in REGISTRY.items():
        assert f"{name} [{entry.unit}]" in listed
    assert {each["name"] for each in json.loads(run("--json"))} == set(REGISTRY)
    assert "0.55 if left out" in listed


def test_the_command_computes_one_and_says_how() -> None:
    told = run("boiling_point_c", "altitude=5200ft")
    for word in ("94.7 C", "altitude_m = 1584.96", "Equation:", "Valid:", "Class: A", "Source: ISO 2533"):
        assert word in told
    answer = json.loads(run("boiling_point_c", "altitude=5200ft", "--json"))
    assert answer["value"] == pytest.approx(94.70, abs=0.01)
    assert answer["inputs"] == {"altitude_m": pytest.approx(1584.96)}
    assert answer["class"] == "A"


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("boiling_point_c", "altitude_m=9000"), "-430 to 4500 m"),
        (("boiling_point_c", "altitude"), "argument=value"),
        (("magic_kg",), "boiling_point_c"),
    ],
)
def test_the_command_refuses_with_the_range_or_the_names(arguments: tuple[str, ...], word: str) -> None:
    with pytest.raises(CommandError, match=word) as refusal:
        run(*arguments)
    assert refusal.value.returncode == 2
