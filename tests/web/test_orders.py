"""Orders: the grid, and changing a line."""

from __future__ import annotations

from typing import Any

from production.models import OrderLine, PlanningWeek
from tests.builders import a_week
from tests.conftest import Cast
from tests.web.conftest import address, signed_in


def change(cast: Cast, week: PlanningWeek, containers: object, *, revision: object = 1, by: str = "manager") -> Any:
    client = signed_in(getattr(cast, by))
    return client.post(address(week, "orders", "L1"), {"containers": containers, "revision": revision})


def line(week: PlanningWeek) -> OrderLine:
    return OrderLine.objects.get(week=week, code="L1")


def test_the_grid_holds_every_line_once_and_adds_up(cast: Cast, planning_week: PlanningWeek) -> None:
    days = signed_in(cast.inspector).get(address(planning_week, "orders")).context["days"]
    cells = [cell for day in days for row in day.rows for cells in row.cells for cell in cells]
    assert sorted(cell.line for cell in cells) == sorted(each.code for each in a_week().order_lines)
    assert sum(sum(day.totals) for day in days) == sum(each.containers for each in a_week().order_lines)


def test_a_day_of_dispatch_is_the_kitchens_own_day(cast: Cast, planning_week: PlanningWeek) -> None:
    OrderLine.objects.filter(week=planning_week, code="L1").update(dispatch_at="2027-02-04T04:30:00+00:00")
    days = signed_in(cast.manager).get(address(planning_week, "orders")).context["days"]
    holding = [day.label for day in days if any(c.line == "L1" for r in day.rows for cells in r.cells for c in cells)]
    assert holding == ["Wed 3 Feb"]


def test_a_week_without_orders_says_where_they_come_from(cast: Cast, planning_week: PlanningWeek) -> None:
    OrderLine.objects.all().delete()
    body = signed_in(cast.manager).get(address(planning_week, "orders")).content.decode()
    assert "No orders in this week" in body


def test_a_manager_changes_a_line_and_is_told_what_follows(cast: Cast, planning_week: PlanningWeek) -> None:
    response = change(cast, planning_week, 9)
    assert (response.status_code, response.headers["Location"]) == (302, address(planning_week, "orders"))
    assert (line(planning_week).containers, line(planning_week).revision) == (9, 2)
    body = signed_in(cast.manager).get(address(planning_week, "orders", "L1")).content.decode()
    assert 'value="9"' in body


def test_the_same_change_sent_twice_is_made_once(cast: Cast, planning_week: PlanningWeek) -> None:
    assert [change(cast, planning_week, 9).status_code for _ in range(2)] == [302, 302]
    assert (line(planning_week).containers, line(planning_week).revision) == (9, 2)


def test_the_second_of_two_managers_is_told_and_keeps_the_typed_number(cast: Cast, planning_week: PlanningWeek) -> None:
    change(cast, planning_week, 9)
    response = change(cast, planning_week, 4, revision=1)
    body = response.content.decode()
    assert response.status_code == 409
    assert "Somebody else has changed this line meanwhile: it now says 9 containers." in body
    assert 'value="4"' in body
    assert 'name="revision" value="2"' in body
    assert line(planning_week).containers == 9


def test_what_was_typed_stays_when_it_is_refused(cast: Cast, planning_week: PlanningWeek) -> None:
    for typed in ("a dozen", "-3", "0", "1.5", "99999999", ""):
        response = change(cast, planning_week, typed)
        body = response.content.decode()
        assert response.status_code == 422, typed
        assert f'value="{typed}"' in body or not typed
        assert 'aria-invalid="true"' in body
    assert line(planning_week).revision == 1


def test_a_form_without_its_revision_changes_nothing(cast: Cast, planning_week: PlanningWeek) -> None:
    assert change(cast, planning_week, 9, revision="").status_code == 422
    assert line(planning_week).containers == 6


def test_only_a_manager_changes_orders(cast: Cast, planning_week: PlanningWeek) -> None:
    for by in ("cook", "inspector", "administrator"):
        assert change(cast, planning_week, 9, by=by).status_code == 403
    assert line(planning_week).containers == 6


def test_an_inspector_sees_a_line_without_a_form(cast: Cast, planning_week: PlanningWeek) -> None:
    body = signed_in(cast.inspector).get(address(planning_week, "orders", "L1")).content.decode()
    assert "Save the number" not in body
    assert 'name="containers"' not in body


def test_hostile_names_are_shown_as_text(cast: Cast, planning_week: PlanningWeek) -> None:
    outlet = line(planning_week).outlet
    outlet.name = "<script>alert(1)</script>"
    outlet.save()
    for page in (address(planning_week, "orders"), address(planning_week, "orders", "L1")):
        body = signed_in(cast.manager).get(page).content.decode()
        assert "<script>alert" not in body
        assert "&lt;script&gt;alert(1)" in body
