"""Every address, as every person of the cast."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, reverse
from django.utils import timezone

from production.domain.plan import RunLost, ask_to_json, plan_from_json
from production.models import Document, Job, Membership, Plan, PlanAsk, PlanningWeek
from production.queue import enqueue
from production.web import urls
from tests.conftest import Cast
from tests.web.conftest import signed_in

OK, REDIRECT, REFUSED, UNKNOWN, NOT_THAT_WAY, FASTER, NOTHING_SENT = 200, 302, 403, 404, 405, 409, 422

# Address -> (method, answer to manager, inspector, administrator, cook).
EXPECTED: dict[str, tuple[str, tuple[int, int, int, int]]] = {
    "kitchen": ("get", (REDIRECT, REDIRECT, REDIRECT, REDIRECT)),
    "weeks": ("get", (OK, OK, OK, OK)),
    "week": ("get", (OK, OK, OK, REFUSED)),
    "week-download": ("get", (OK, OK, OK, REFUSED)),
    "orders": ("get", (OK, OK, OK, REFUSED)),
    "order-line": ("get", (OK, OK, OK, REFUSED)),
    "plan": ("get", (OK, OK, OK, OK)),
    "plan-make": ("post", (REDIRECT, REFUSED, REFUSED, REFUSED)),
    "plan-again": ("post", (FASTER, REFUSED, REFUSED, REFUSED)),  # it does not say which plan was seen
    "plan-numbered": ("get", (OK, OK, OK, OK)),
    "plan-compare": ("get", (OK, OK, OK, OK)),
    "plan-publish": ("get", (OK, REFUSED, REFUSED, REFUSED)),
    "plan-take": ("post", (FASTER, REFUSED, REFUSED, REFUSED)),  # the week's only plan is no re-plan
    "plan-leave": ("post", (FASTER, REFUSED, REFUSED, REFUSED)),
    "fixes-ask": ("post", (REDIRECT, REFUSED, REFUSED, REFUSED)),
    "fix-do": ("post", (UNKNOWN, REFUSED, REFUSED, REFUSED)),  # nothing has been worked out yet
    "changes": ("get", (OK, REFUSED, REFUSED, REFUSED)),
    "move-verdict": ("get", (OK, REFUSED, REFUSED, REFUSED)),
    "move-form": ("get", (OK, REFUSED, REFUSED, REFUSED)),
    "change-withdraw": ("post", (FASTER, REFUSED, REFUSED, REFUSED)),  # it has been taken back already
    "run": ("get", (OK, OK, OK, OK)),
    "run-working": ("get", (OK, OK, OK, OK)),
    "formula-roles": ("get", (OK, REFUSED, REFUSED, REFUSED)),
    "purchasing": ("get", (OK, OK, OK, REFUSED)),
    "storage": ("get", (OK, OK, OK, REFUSED)),
    "documents": ("get", (OK, OK, OK, OK)),
    "documents-issue": ("post", (REDIRECT, REFUSED, REFUSED, REFUSED)),
    "document-pdf": ("get", (OK, OK, OK, OK)),
    "job": ("get", (OK, OK, OK, OK)),
    "job-progress": ("get", (OK, OK, OK, OK)),
    "job-stop": ("post", (REDIRECT, REFUSED, REFUSED, REFUSED)),
    "floor": ("get", (OK, OK, OK, OK)),
    "cooling": ("get", (OK, OK, OK, OK)),
    "cooling-print": ("post", (UNKNOWN, REFUSED, REFUSED, UNKNOWN)),  # nothing has cooled yet
    "batch-record-print": ("post", (UNKNOWN, REFUSED, REFUSED, UNKNOWN)),  # nothing has been cooked yet
    "cooling-group": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing cools yet
    "run-live": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing is published yet
    "floor-worker": ("get", (OK, OK, OK, OK)),
    "floor-pulse": ("get", (OK, OK, OK, OK)),
    "floor-record": ("post", (REDIRECT, REFUSED, REFUSED, REDIRECT)),
    "floor-entries": ("post", (NOTHING_SENT, REFUSED, REFUSED, NOTHING_SENT)),
    "lots": ("get", (OK, OK, OK, OK)),
    "lot": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing has been packed yet
    "lots-take-in": ("post", (NOTHING_SENT, REFUSED, REFUSED, REFUSED)),
    "lot-pack": ("get", (UNKNOWN, REFUSED, REFUSED, UNKNOWN)),  # it does not say which draw
    "dispatch": ("get", (OK, OK, OK, OK)),
    "dispatch-send": ("post", (NOTHING_SENT, REFUSED, REFUSED, NOTHING_SENT)),
    "dispatch-note": ("post", (UNKNOWN, REFUSED, REFUSED, UNKNOWN)),  # nothing has left yet
    "inspection": ("get", (OK, OK, OK, REFUSED)),
    "inspection-book": ("get", (OK, OK, OK, REFUSED)),
    "inspection-log": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing has cooled yet
    "exports": ("get", (OK, OK, OK, REFUSED)),
    "export-file": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, REFUSED)),  # nothing has been packed yet
    "deviations": ("get", (OK, OK, OK, OK)),
    "deviation": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing has gone wrong yet
    "receiving": ("get", (OK, OK, OK, OK)),
    "receipt": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing has come in yet
    "store-temps": ("get", (OK, OK, OK, OK)),
    "store-log": ("get", (OK, OK, OK, OK)),
    "thermometers": ("get", (OK, OK, OK, OK)),
    "thermometer": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # the list is empty
    "thermometer-doubt": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),
    "bones": ("get", (OK, OK, OK, OK)),
    "bones-take": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # the bank is empty
    "trace": ("get", (OK, OK, OK, OK)),
    "trace-thread": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # nothing has been packed yet
    "trace-pdf": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),
    "drill-begin": ("post", (FASTER, REFUSED, REFUSED, FASTER)),  # nothing has left that could be traced
    "drill": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),
    "hazard-plans": ("get", (OK, OK, OK, OK)),
    "hazard-plan": ("get", (OK, OK, OK, OK)),
    "hazard-plan-pdf": ("get", (UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN)),  # none is issued yet
    "workings": ("get", (OK, OK, OK, OK)),
    "working": ("get", (OK, OK, OK, OK)),
}


@dataclass(frozen=True, slots=True)
class Place:
    """An address with what the week of the tests has there."""

    name: str
    href: str
    method: str


@pytest.fixture
def places(cast: Cast, planning_week: PlanningWeek, plan: Plan, documents: tuple[Document, ...]) -> dict[str, Place]:
    code, day = cast.kitchen.code, planning_week.starts_on
    run = plan_from_json(plan.result).runs[0]
    job_id = enqueue(kind="plan_build", kitchen_id=cast.kitchen.pk, payload={"week_id": planning_week.pk})
    ask = PlanAsk.objects.create(
        week=planning_week,
        plan=plan,
        content=ask_to_json(RunLost(run=run.code)),
        created_by=cast.manager.user,
        created_at=timezone.now(),
        withdrawn_by=cast.manager.user,
        withdrawn_at=timezone.now(),
    )
    parts: dict[str, tuple[object, ...]] = {
        "plan-numbered": (day, 1),
        "plan-compare": (day, 1, 1),
        "plan-publish": (day, 1),
        "plan-take": (day, 1),
        "plan-leave": (day, 1),
        "fixes-ask": (day, 1),
        "fix-do": (day, 1, 0),
        "change-withdraw": (day, ask.pk),
        "order-line": (day, "L1"),
        "run": (day, run.code),
        "formula-roles": (day, run.formula),
        "run-working": (day, run.code, run.figures[0].key),
        "document-pdf": (documents[0].pk,),
        "job": (job_id,),
        "job-progress": (job_id,),
        "job-stop": (job_id,),
        "kitchen": (),
        "weeks": (),
        "floor": (),
        "cooling": (),
        "cooling-print": ("2027-02-01/R01/first/sink/1.1",),
        "batch-record-print": (day, run.code),
        "cooling-group": ("2027-02-01/R01/first/sink/1.1",),
        "run-live": (day, run.code),
        "floor-worker": (),
        "floor-pulse": (),
        "floor-record": (),
        "floor-entries": (),
        "lots": (),
        "lot": ("2702020013",),
        "lots-take-in": (),
        "lot-pack": (),
        "dispatch": (),
        "dispatch-send": (),
        "dispatch-note": (),
        "inspection": (),
        "inspection-book": (),
        "inspection-log": ("2027-02-01/R01/first/sink/1.1",),
        "deviations": (),
        "exports": (),
        "export-file": (1,),
        "deviation": (1,),
        "receiving": (),
        "receipt": ("R2702020013",),
        "store-temps": (),
        "store-log": ("walk-in",),
        "thermometers": (),
        "thermometer": ("t1",),
        "thermometer-doubt": ("t1", 1),
        "bones": (),
        "bones-take": ("B270202-1",),
        "trace": (),
        "trace-thread": ("lot/2702020013",),
        "trace-pdf": ("lot/2702020013",),
        "drill-begin": (),
        "drill": (1,),
        "hazard-plans": (),
        "hazard-plan": ("poultry",),
        "hazard-plan-pdf": ("poultry", 1),
        "workings": (),
        "working": ("boiling_point_c",),
    }
    return {
        name: Place(name, reverse(name, args=[code, *parts.get(name, (day,))]), method)
        for name, (method, _) in EXPECTED.items()
    }


def names_of(patterns: list[URLPattern | URLResolver]) -> Iterator[str]:
    for each in patterns:
        if isinstance(each, URLResolver):
            yield from names_of(each.url_patterns)
        elif each.name:
            yield each.name


def go(client: Client, place: Place) -> tuple[int, str]:
    response = getattr(client, place.method)(place.href)
    body = b"".join(response.streaming_content) if response.streaming else response.content
    return response.status_code, body.decode(errors="replace")


def test_the_walk_knows_every_address() -> None:
    assert set(names_of(urls.urlpatterns)) == {*EXPECTED, "home", "inspections"}


def test_every_member_gets_what_the_role_allows(cast: Cast, places: dict[str, Place]) -> None:
    people = (cast.manager, cast.inspector, cast.administrator, cast.cook)
    wrong = []
    for n, by in enumerate(people):
        client = signed_in(by)
        for name, (_, allowed) in EXPECTED.items():
            status, _ = go(client, places[name])
            if status != allowed[n]:
                wrong.append((by.role, name, status, allowed[n]))
    assert wrong == []


def test_the_manager_of_another_kitchen_finds_nothing(cast: Cast, places: dict[str, Place]) -> None:
    client = signed_in(cast.outsider)
    for place in places.values():
        status, body = go(client, place)
        assert status == UNKNOWN, place
        assert cast.kitchen.name not in body
        assert "Poultry" not in body


def test_somebody_without_a_kitchen_finds_nothing(cast: Cast, places: dict[str, Place]) -> None:
    client = Client()
    client.force_login(cast.stranger)
    assert {go(client, place)[0] for place in places.values()} == {UNKNOWN}


def test_somebody_unknown_is_asked_to_sign_in(cast: Cast, places: dict[str, Place]) -> None:
    for place in places.values():
        response = getattr(Client(), place.method)(place.href)
        assert response.status_code == REDIRECT, place
        assert response.headers["Location"].startswith("/sign-in/?next=/k/")


def test_things_of_another_kitchen_are_not_found_under_the_own_address(
    cast: Cast, planning_week: PlanningWeek, documents: tuple[Document, ...]
) -> None:
    job_id = enqueue(kind="plan_build", kitchen_id=cast.kitchen.pk, payload={"week_id": planning_week.pk})
    client = signed_in(cast.outsider)
    for href in (
        f"/k/elsewhere/documents/{documents[0].pk}/pdf/",
        f"/k/elsewhere/jobs/{job_id}/",
        f"/k/elsewhere/weeks/{planning_week.starts_on}/",
    ):
        assert client.get(href).status_code == UNKNOWN
    assert client.post(f"/k/elsewhere/jobs/{job_id}/stop/").status_code == UNKNOWN
    assert not Job.objects.get(pk=job_id).cancel_requested


def test_a_member_who_is_switched_off_finds_nothing(cast: Cast, places: dict[str, Place]) -> None:
    client = signed_in(cast.manager)
    cast.manager.user.is_active = False
    cast.manager.user.save()
    assert client.get(places["week"].href).status_code in (REDIRECT, UNKNOWN)


def test_what_changes_something_cannot_be_done_by_following_a_link(cast: Cast, places: dict[str, Place]) -> None:
    client = signed_in(cast.manager)
    for name in (name for name, (method, _) in EXPECTED.items() if method == "post"):
        assert client.get(places[name].href).status_code == NOT_THAT_WAY


def test_a_form_from_another_site_is_refused(cast: Cast, places: dict[str, Place]) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.manager.user)
    answer = client.post(places["plan-make"].href)
    assert answer.status_code == REFUSED
    assert "This form is too old" in answer.content.decode()
    assert not Job.objects.filter(requested_by=cast.manager.user).exists()


def test_a_refusal_says_why_and_whom_to_ask(cast: Cast, places: dict[str, Place]) -> None:
    _, body = go(signed_in(cast.cook), places["purchasing"])
    assert "Your role here (cook) may not see what is bought and its prices." in body
    assert "Ask the manager" in body


@pytest.mark.parametrize("role", ["manager", "cook", "inspector", "administrator"])
def test_the_navigation_offers_only_what_the_role_may_open(cast: Cast, places: dict[str, Place], role: str) -> None:
    by: Membership = getattr(cast, role)
    client = signed_in(by)
    shown = [page for area in client.get(places["plan"].href).context["navigation"] for page in area.pages]
    assert {client.get(item.href).status_code for item in shown} == {OK}
    assert ("Purchasing" in {item.label for item in shown}) == (role != "cook")


def test_pages_are_kept_by_nobody_on_the_way(cast: Cast, places: dict[str, Place]) -> None:
    client = signed_in(cast.manager)
    for name in ("week", "document-pdf", "week-download"):
        assert "no-store" in client.get(places[name].href).headers["Cache-Control"]


def test_an_administrator_who_keeps_the_set_up_finds_the_way_to_it(cast: Cast, planning_week: PlanningWeek) -> None:
    def labels() -> list[str]:
        page = signed_in(cast.administrator).get(reverse("weeks", args=[cast.kitchen.code]))
        return [area.label for area in page.context["navigation"]]

    assert "Set-up" not in labels()
    cast.administrator.user.is_staff = True
    cast.administrator.user.save()
    assert "Set-up" in labels()
