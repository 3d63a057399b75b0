"""Traces and hazard plans over the API."""

from __future__ import annotations

from decimal import Decimal

import pytest

from production.models import PlanningWeek
from tests.api.conftest import ClientOf
from tests.conftest import Cast
from tests.services.trace_kit import Traced, a_thread


@pytest.fixture
def traced(cast: Cast, planning_week: PlanningWeek) -> Traced:
    return a_thread(cast, planning_week)


def test_a_thread_tells_knots_amounts_and_sums(cast: Cast, traced: Traced, client_of: ClientOf) -> None:
    answer = client_of(cast.inspector.user).get("/api/v1/kitchens/small/trace", {"of": f"lot/{traced.lot.code}"})
    assert answer.status_code == 200
    told = answer.json()
    assert {each["kind"] for each in told["knots"]} == {
        "supplier", "ingredient_lot", "run", "cooling", "lot", "outlet",
    }  # fmt: skip
    ways = {(each["from_key"], each["to_key"]): each["amount"] for each in told["ways"]}
    assert Decimal(ways[f"ingredient/{traced.came.code}", traced.run.subject]) == 18
    (lot,) = told["lots"]
    assert [Decimal(lot[name]) for name in ("made", "shipped", "stock", "discarded", "unexplained")] == [10, 6, 4, 0, 0]
    assert (told["found_percent"], told["gaps"]) == ("100.0", [])


def test_what_cannot_be_traced_is_refused_or_not_found(cast: Cast, traced: Traced, client_of: ClientOf) -> None:
    client = client_of(cast.cook.user)
    assert client.get("/api/v1/kitchens/small/trace").status_code == 400
    assert client.get("/api/v1/kitchens/small/trace", {"of": "lot/NONE"}).status_code == 404
    assert client.get("/api/v1/kitchens/small/trace", {"of": "run/1; drop"}).status_code == 404


def test_hazard_plans_say_how_they_stand(cast: Cast, traced: Traced, client_of: ClientOf) -> None:
    told = client_of(cast.cook.user).get("/api/v1/kitchens/small/hazard-plans").json()
    assert {each["formula"]: each["newest_version"] for each in told} == {"poultry": None, "fish": None}
