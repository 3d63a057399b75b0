"""What the addresses answer, and that it is what the kitchen's own records say."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from jsonschema import Draft202012Validator
from rest_framework.test import APIClient

from production.domain.plan import plan_dumps, plan_from_json
from production.domain.week_file import dumps_week, parse_week
from production.domain.workings import Argument
from production.models import Document, Job, OrderLine
from production.selectors.plans import plan_content
from production.selectors.purchasing import purchase_lists_of
from production.selectors.workings import workings_all
from production.services.plans import plan_request
from production.services.week_import import week_import
from tests.api.conftest import ClientOf, Planned
from tests.builders import a_line, a_week, at
from tests.conftest import Cast

COMPUTE = "/api/v1/workings/boiling_point_c/compute"


def test_kitchens_are_told_with_the_role_in_each(cast: Cast, client_of: ClientOf) -> None:
    assert client_of(cast.stranger).get("/api/v1/kitchens").data["entries"] == []
    mine = client_of(cast.inspector.user).get("/api/v1/kitchens").data
    assert (mine["total"], mine["entries"][0]["role"]) == (1, "inspector")
    assert mine["entries"][0] == client_of(cast.inspector.user).get("/api/v1/kitchens/small").data


def test_a_week_file_goes_in_and_comes_out_the_same(cast: Cast, manager: APIClient) -> None:
    text = dumps_week(a_week())
    response = manager.post("/api/v1/kitchens/small/weeks", text.encode(), content_type="application/json")
    assert (response.status_code, response.data["starts_on"]) == (200, "2027-02-01")
    out = manager.get("/api/v1/kitchens/small/weeks/2027-02-01/file")
    assert out.content.decode() == text
    assert "small-week-2027-02-01.json" in out["Content-Disposition"]
    assert parse_week(out.content) == a_week()
    schema = APIClient().get("/api/v1/schemas/week-file").data
    Draft202012Validator(schema).validate(out.json())


def test_orders_are_listed_as_they_stand_in_the_file(planned: Planned, manager: APIClient) -> None:
    listed = manager.get(planned.address("api-order-lines")).data
    assert [each["code"] for each in listed["entries"]] == ["L1", "L2", "L3", "L4"]
    assert listed["entries"][0] == {
        "code": "L1",
        "outlet": {"code": "bistro", "name": "Corner bistro"},
        "product": {"code": "poultry-5", "name": "Poultry broth 5 L"},
        "containers": 6,
        "dispatch_at": "2027-02-03T16:00:00Z",
        "weight": 1.0,
        "revision": 1,
    }
    assert manager.get(planned.address("api-order-line")).data == listed["entries"][0]


def test_of_two_people_who_change_a_line_the_second_is_told(planned: Planned, manager: APIClient) -> None:
    address = planned.address("api-order-line")
    first = manager.patch(address, {"containers": 9, "revision": 1}, format="json")
    assert (first.data["containers"], first.data["revision"]) == (9, 2)
    second = manager.patch(address, {"containers": 4, "revision": 1}, format="json")
    problem = second.json()
    assert (second.status_code, problem["code"]) == (409, "changed-meanwhile")
    assert problem["numbers"] == {"containers": 9, "revision": 2}
    assert OrderLine.objects.get(week=planned.week, code="L1").containers == 9
    assert manager.get(planned.address("api-plan")).data["stale"] is True


def test_a_plan_tells_runs_lateness_and_what_is_not_served(planned: Planned, manager: APIClient) -> None:
    told = manager.get(planned.address("api-plan")).data
    content = plan_content(plan=planned.plan)
    assert (told["number"], told["status"], told["stale"]) == (1, "draft", False)
    assert [each["code"] for each in told["runs"]] == [each.code for each in content.runs]
    for shown, run in zip(told["runs"], content.runs, strict=True):
        assert shown["fill_mark_mm"] == run.charge.fill_mark_mm
        assert shown["first_draw_l"] == run.batch.first_l
        assert [each["cooled_in"] for each in shown["draws"]] == [list(each.device_names) for each in run.draws]
    assert len(told["unserved"]) == len(content.unserved)
    assert len(told["late"]) == len(content.late)
    assert manager.get(planned.address("api-plan", number=1)).data == told
    assert manager.get(planned.address("api-plan", number=2)).status_code == 404


def test_the_plan_file_is_the_plan_and_fits_its_schema(planned: Planned, manager: APIClient) -> None:
    content = manager.get(planned.address("api-plan-file")).json()
    assert plan_dumps(plan_from_json(content)) == plan_dumps(plan_content(plan=planned.plan))
    Draft202012Validator(APIClient().get("/api/v1/schemas/plan").data).validate(content)


def test_every_figure_of_a_run_can_be_opened_and_computed_again(planned: Planned, manager: APIClient) -> None:
    listed = manager.get(planned.address("api-figures"), {"size": 200}).data
    assert listed["total"] == len(listed["entries"]) > 20
    for each in listed["entries"]:
        opened = manager.get(planned.address("api-figure", key=each["key"])).data
        assert opened["figure"]["value"] == each["value"]
        assert opened["recomputed"] == pytest.approx(each["value"], rel=1e-12)
        assert opened["working"]["name"] == each["working"]
        assert opened["working"]["equation"]
        assert [parameter["code"] for parameter in opened["parameters"]] == list(
            next(f for f in plan_content(plan=planned.plan).runs[0].figures if f.key == each["key"]).parameters
        )


def test_a_figure_shows_the_kitchens_own_coefficient(planned: Planned, manager: APIClient) -> None:
    keys = [each["key"] for each in manager.get(planned.address("api-figures"), {"size": 200}).data["entries"]]
    opened = [manager.get(planned.address("api-figure", key=key)).data["parameters"] for key in keys]
    own = [each for found in opened for each in found if each["code"] == "evaporation.simmer_flux_scale"]
    assert own
    assert {(each["value"], each["n"], each["source"]) for each in own} == {(0.9, 6, "six weighed runs")}


def test_purchase_lists_are_told_with_money_as_text(cast: Cast, planned: Planned, manager: APIClient) -> None:
    told = manager.get(planned.address("api-purchase-lists")).data["entries"]
    lists = purchase_lists_of(by=cast.manager, plan=planned.plan)
    assert [(each["supplier"], each["total"]) for each in told] == [
        (each.supplier, f"{each.total:.2f}") for each in lists
    ]
    assert [line["cost"] for line in told[0]["lines"]] == [f"{line.cost:.2f}" for line in lists[0].lines]


def test_storage_choices_are_told(planned: Planned, manager: APIClient) -> None:
    told = manager.get(planned.address("api-storage-choices")).data["entries"]
    choices = plan_content(plan=planned.plan).storage_choices
    assert [(each["store"], each["product"], each["containers"]) for each in told] == [
        (each.store, each.product, each.containers) for each in choices
    ]


def test_a_document_is_told_with_its_content_and_given_as_pdf(planned: Planned, manager: APIClient) -> None:
    told = manager.get(planned.address("api-document")).data
    assert (told["kind"], told["version"], told["replaces"]) == ("batch_sheet", 1, None)
    assert told["content"]["run"] == planned.run
    text = json.dumps(told["content"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(text.encode()).hexdigest() == told["content_sha256"]
    pdf = manager.get(planned.address("api-document-pdf"))
    assert (pdf["Content-Type"], pdf.content) == ("application/pdf", b"%PDF-1.7 as printed")
    assert f"batch-sheet-{planned.run}-v1.pdf" in pdf["Content-Disposition"]


def test_replaced_documents_are_listed_only_when_asked_for(planned: Planned, manager: APIClient) -> None:
    newer = Document.objects.get(pk=planned.sheet.pk)
    newer.pk, newer.version, newer.replaces = None, 2, planned.sheet
    newer.save(force_insert=True)
    address = planned.address("api-documents")
    newest = [each["id"] for each in manager.get(address).data["entries"]]
    assert newer.pk in newest
    assert planned.sheet.pk not in newest
    every = manager.get(address, {"all_versions": "true"}).data["entries"]
    assert {each["id"] for each in every} == {*newest, planned.sheet.pk}


def test_what_is_asked_for_is_answered_with_a_job_that_tells_how_far_it_is(
    planned: Planned, manager: APIClient
) -> None:
    asked = manager.post(planned.address("api-plans"))
    assert asked.status_code == 202
    assert (asked.data["kind"], asked.data["state"]) == ("plan_build", "queued")
    followed = manager.get(asked["Location"])
    assert followed.data == asked.data
    assert manager.get(planned.address("api-jobs")).data["entries"] == [asked.data]
    Job.objects.update(state="failed", error_code="week-gone", error_sentence="Gone.", finished_at="2027-01-01T00:00Z")
    assert manager.get(asked["Location"]).data["failure"] == {"code": "week-gone", "sentence": "Gone."}
    assert manager.post(f"{asked['Location']}/cancel").data["state"] == "failed"


def test_one_document_can_be_asked_for(planned: Planned, manager: APIClient) -> None:
    asked = manager.post(planned.address("api-documents"), {"kind": "batch_sheet", "key": planned.run}, format="json")
    assert asked.status_code == 202
    assert Job.objects.get().payload == {"plan_id": planned.plan.pk, "kind": "batch_sheet", "key": planned.run}
    none = manager.post(planned.address("api-documents"), {"kind": "batch_sheet", "key": "no-run"}, format="json")
    assert none.status_code == 404


@pytest.mark.parametrize("name", ["api-plans", "api-documents"])
def test_the_same_key_twice_is_one_job(name: str, planned: Planned, manager: APIClient) -> None:
    answers = [manager.post(planned.address(name), HTTP_IDEMPOTENCY_KEY="k-1") for _ in range(3)]
    assert {each.data["id"] for each in answers} == {Job.objects.get().pk}
    assert {each.status_code for each in answers} == {202}
    manager.post(planned.address(name), HTTP_IDEMPOTENCY_KEY="k-2")
    manager.post(planned.address(name))
    manager.post(planned.address(name))
    assert Job.objects.count() == 4


def test_a_key_cannot_be_used_for_another_request(planned: Planned, manager: APIClient) -> None:
    manager.post(planned.address("api-plans"), HTTP_IDEMPOTENCY_KEY="k-1")
    other = manager.post(planned.address("api-documents"), HTTP_IDEMPOTENCY_KEY="k-1")
    assert (other.status_code, other.json()["code"]) == (409, "key-used-for-other-request")


def test_workings_are_listed_found_and_computed_with_units(manager: APIClient) -> None:
    found = manager.get("/api/v1/workings", {"find": "boiling_point"}).data
    assert "boiling_point_c" in [each["name"] for each in found["entries"]]
    everything = manager.get("/api/v1/workings", {"size": 200}).data
    assert everything["total"] == len(everything["entries"]) > found["total"]
    typed = manager.post(COMPUTE, {"arguments": {"altitude": "5200 ft"}}, format="json").data
    plain = manager.post(COMPUTE, {"arguments": {"altitude_m": 5200 * 0.3048}}, format="json").data
    assert typed["figure"]["value"] == pytest.approx(plain["figure"]["value"], abs=1e-9)
    assert 94.0 < typed["figure"]["value"] < 96.0
    assert typed["working"] == manager.get("/api/v1/workings/boiling_point_c").data


def test_out_of_range_is_refused_with_the_range(manager: APIClient) -> None:
    refused = manager.post(COMPUTE, {"arguments": {"altitude": "90 km"}}, format="json")
    problem = refused.json()
    assert (refused.status_code, problem["code"]) == (422, "out-of-range")
    assert problem["type"] == "urn:potwright:problem:out-of-range"
    argument = manager.get("/api/v1/workings/boiling_point_c").data["arguments"][0]
    assert (problem["numbers"]["low"], problem["numbers"]["high"]) == (argument["low"], argument["high"])
    assert f"{argument['high']:g} m" in problem["detail"]
    assert problem["remedy"]


@pytest.mark.parametrize("edge", ["low", "high"])
def test_every_working_answers_at_the_edges_of_its_ranges(edge: str, manager: APIClient) -> None:
    """With a number, or with a refusal where the arguments contradict each other; never with a fault."""
    computed = 0
    for working in workings_all():
        arguments = {each.name: edge_of(each, edge) for each in working.arguments}
        response = manager.post(f"/api/v1/workings/{working.name}/compute", {"arguments": arguments}, format="json")
        assert response.status_code in {200, 422}, working.name
        if response.status_code == 200:
            computed += 1
            assert response.data["figure"]["inputs"] == arguments
            assert response.data["figure"]["value"] == working.function(**arguments)
    assert computed > 40


def edge_of(argument: Argument, edge: str) -> float:
    """The end of the range; an open end is tried with the largest number that is taken."""
    low = -1e299 if argument.low is None else argument.low
    high = 1e299 if argument.high is None else argument.high
    return float(low if edge == "low" else high)


def test_lists_come_in_pages(planned: Planned, manager: APIClient) -> None:
    address = planned.address("api-order-lines")
    pages = [manager.get(address, {"page": page, "size": 3}).data for page in (1, 2, 3)]
    assert [[each["code"] for each in page["entries"]] for page in pages] == [["L1", "L2", "L3"], ["L4"], []]
    assert {page["total"] for page in pages} == {4}


def test_lists_take_the_same_number_of_queries_however_long_they_are(
    cast: Cast, planned: Planned, manager: APIClient
) -> None:
    names = ("api-weeks", "api-order-lines", "api-plans", "api-documents", "api-jobs")
    plan_request(by=cast.manager, week=planned.week)
    before = {name: queries(manager, planned.address(name)) for name in names}
    # token, membership, count, rows; below a week the week, below a plan the plan
    assert before == {"api-weeks": 4, "api-jobs": 4, "api-order-lines": 5, "api-plans": 5, "api-documents": 6}
    grow(cast, planned)
    assert {name: queries(manager, planned.address(name)) for name in names} == before


def queries(client: APIClient, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        response = client.get(address)
    assert response.data["entries"]
    return len(seen)


def grow(cast: Cast, planned: Planned) -> None:
    """More rows in every list, made by other people too."""
    lines = tuple(
        a_line(code=f"M{number}", outlet="school" if number % 2 else "bistro", dispatch_at=at("2027-02-04 09:00"))
        for number in range(12)
    )
    week = a_week()
    week_import(week=replace(week, order_lines=(*week.order_lines, *lines)), by=cast.manager)
    week_import(
        week=replace(week, starts_on=week.starts_on.replace(day=8), order_lines=(), lots=(), shifts=()), by=cast.manager
    )
    for number in range(2, 6):
        plan = planned.plan
        plan.pk, plan.number, plan.status, plan.created_by = None, number, "superseded", cast.administrator.user
        plan.save(force_insert=True)
    for version in range(2, 6):
        document = Document.objects.get(pk=planned.sheet.pk)
        document.pk, document.key, document.created_by, document.plan = (
            None,
            f"R9{version}",
            cast.cook.user,
            planned.plan,
        )
        document.save(force_insert=True)
    for _ in range(5):
        plan_request(by=cast.manager, week=planned.week)
