"""Changing an order line."""

from __future__ import annotations

import threading

import pytest
from django.db import connection
from django.http import Http404

from production.domain.errors import Conflict, NotAllowed, OutOfRange, PotwrightError
from production.models import OrderLine, PlanningWeek
from production.services.orders import order_line_set
from tests.conftest import Cast


def test_a_manager_changes_the_number_of_containers(cast: Cast, planning_week: PlanningWeek) -> None:
    line = order_line_set(by=cast.manager, week=planning_week, code="L1", containers=11, revision=1)
    assert (line.containers, line.revision) == (11, 2)
    stored = OrderLine.objects.get(week=planning_week, code="L1")
    assert (stored.containers, stored.revision) == (11, 2)


def test_of_two_managers_who_change_the_same_line_the_second_is_told(cast: Cast, planning_week: PlanningWeek) -> None:
    order_line_set(by=cast.manager, week=planning_week, code="L1", containers=11, revision=1)
    with pytest.raises(Conflict) as told:
        order_line_set(by=cast.manager, week=planning_week, code="L1", containers=3, revision=1)
    assert told.value.code == "changed-meanwhile"
    assert told.value.numbers == {"containers": 11, "revision": 2}
    assert OrderLine.objects.get(week=planning_week, code="L1").containers == 11


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_eight_changes_at_the_same_moment_one_wins_and_seven_are_told(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    outcome: list[str] = []
    together = threading.Barrier(8)

    def change(containers: int) -> None:
        together.wait()
        try:
            order_line_set(by=cast.manager, week=planning_week, code="L1", containers=containers, revision=1)
            outcome.append("changed")
        except PotwrightError as error:
            outcome.append(error.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=change, args=(number,)) for number in range(1, 9)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcome) == ["changed", *["changed-meanwhile"] * 7]
    assert OrderLine.objects.get(week=planning_week, code="L1").revision == 2


@pytest.mark.parametrize("containers", [0, -1, 10001])
def test_an_absurd_number_of_containers_is_refused(cast: Cast, planning_week: PlanningWeek, containers: int) -> None:
    with pytest.raises(OutOfRange) as refused:
        order_line_set(by=cast.manager, week=planning_week, code="L1", containers=containers, revision=1)
    assert refused.value.numbers == {"containers": containers, "low": 1, "high": 10000}
    assert OrderLine.objects.get(week=planning_week, code="L1").revision == 1


@pytest.mark.parametrize("role", ["cook", "inspector", "administrator"])
def test_nobody_but_a_manager_changes_orders(cast: Cast, planning_week: PlanningWeek, role: str) -> None:
    with pytest.raises(NotAllowed):
        order_line_set(by=getattr(cast, role), week=planning_week, code="L1", containers=2, revision=1)


def test_a_manager_of_another_kitchen_finds_no_such_line(cast: Cast, planning_week: PlanningWeek) -> None:
    with pytest.raises(Http404):
        order_line_set(by=cast.outsider, week=planning_week, code="L1", containers=2, revision=1)
    assert OrderLine.objects.get(week=planning_week, code="L1").revision == 1


def test_an_unknown_line_is_not_found(cast: Cast, planning_week: PlanningWeek) -> None:
    with pytest.raises(Http404):
        order_line_set(by=cast.manager, week=planning_week, code="L99", containers=2, revision=1)
