"""The plan file: its committed schema is the generated one, and the demo's plan obeys it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from production.domain.plan import make_plan, plan_dumps, plan_from_json, plan_schema
from production.domain.week_file import parse_week

FIXTURES = Path(__file__).parents[2] / "fixtures"


@pytest.fixture(scope="module", params=["demo_week.json", "impossible_week.json"])
def written(request: pytest.FixtureRequest) -> dict[str, Any]:
    week = parse_week((FIXTURES / request.param).read_bytes())
    made: dict[str, Any] = json.loads(plan_dumps(make_plan(week=week)))
    return made


def test_the_committed_schema_is_the_generated_one() -> None:
    text = json.dumps(plan_schema(), ensure_ascii=False, indent=1) + "\n"
    assert (FIXTURES / "plan.schema.json").read_text(encoding="utf-8") == text


def test_the_schema_is_valid_and_names_its_version() -> None:
    Draft202012Validator.check_schema(plan_schema())
    assert plan_schema()["$id"] == "urn:potwright:plan:1"


def test_a_property_says_what_it_is_and_its_unit() -> None:
    defined = plan_schema()["$defs"]
    assert defined["Pot"]["properties"]["inner_diameter_mm"]["description"] == "inside diameter, in mm"
    assert defined["Charge"]["properties"]["water_kg"]["description"] == "in kg"


def test_a_written_plan_obeys_the_schema(written: dict[str, Any]) -> None:
    schema = json.loads((FIXTURES / "plan.schema.json").read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(written)) == []


def test_a_plan_of_another_kind_breaks_the_schema(written: dict[str, Any]) -> None:
    schema = json.loads((FIXTURES / "plan.schema.json").read_text(encoding="utf-8"))
    broken = written | {"runs": [run | {"pot": 7} for run in written["runs"]]}
    assert list(Draft202012Validator(schema).iter_errors(broken)) != []


def test_a_written_plan_is_read_back_the_same(written: dict[str, Any]) -> None:
    assert json.loads(plan_dumps(plan_from_json(written))) == written
