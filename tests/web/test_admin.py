"""Upkeep pages: an administrator reaches the own kitchen's set-up and nothing else."""

from __future__ import annotations

import pytest
from django.contrib.admin import site
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from production.models import (
    CareSettings,
    Checkpoint,
    Entry,
    Kitchen,
    LotSettings,
    Membership,
    PlanningWeek,
    Pot,
    Product,
    ProductLabel,
    SafetyPlan,
)
from production.models.base import SameKitchen
from production.selectors.record_check import book_check
from production.services.care_settings import FIELDS
from production.services.checkpoints import checkpoint_now
from production.services.records import Draft, entries_append
from production.services.week_import import week_import
from tests.builders import a_kitchen, a_week
from tests.conftest import Cast

OURS = [model for model in site._registry if issubclass(model, SameKitchen)]


def signed_in(by: Membership) -> Client:
    by.user.is_staff = True
    by.user.save()
    client = Client()
    client.force_login(by.user)
    return client


def written_down(*people: Membership) -> None:
    now = timezone.now()
    for by in people:
        draft = Draft(kind="boil_reached", subject="run/2027-02-01/R1", content={}, happened_at=now, key="k")
        entries_append(by=by, drafts=[draft], now=now)
        checkpoint_now(kitchen_id=by.kitchen_id, now=now)


def address(model: type, what: str, *args: int) -> str:
    return reverse(f"admin:production_{model.__name__.lower()}_{what}", args=args)


@pytest.mark.parametrize("model", OURS, ids=[each.__name__ for each in OURS])
def test_an_administrator_sees_the_own_kitchens_rows_only(
    cast: Cast, planning_week: PlanningWeek, model: type[SameKitchen]
) -> None:
    week_import(week=a_week(kitchen=a_kitchen(code="elsewhere", name="Kitchen elsewhere")), by=cast.outsider)
    written_down(cast.cook, cast.outsider)
    for by in (cast.administrator, cast.outsider):
        LotSettings.objects.create(kitchen=by.kitchen, label_law="eu")
        SafetyPlan.objects.create(kitchen=by.kitchen)
        CareSettings.objects.create(kitchen=by.kitchen)
        ProductLabel.objects.create(product=Product.objects.filter(kitchen=by.kitchen).earliest("pk"))
    client = signed_in(cast.administrator)
    listed = client.get(address(model, "changelist"))
    assert listed.status_code == 200
    assert listed.context["cl"].result_list
    assert {row.owner_id() for row in listed.context["cl"].result_list} == {cast.kitchen.pk}
    foreign = next(row for row in model._default_manager.all() if row.owner_id() == cast.outsider.kitchen_id)
    assert client.get(address(model, "change", foreign.pk)).status_code == 302
    own = next(row for row in model._default_manager.all() if row.owner_id() == cast.kitchen.pk)
    page = client.get(address(model, "change", own.pk))
    assert page.status_code == 200
    assert "elsewhere" not in page.content.decode()


@pytest.mark.parametrize("model", [Entry, Checkpoint])
def test_what_was_written_down_can_be_looked_at_and_nothing_else(cast: Cast, model: type[SameKitchen]) -> None:
    written_down(cast.cook)
    client = signed_in(cast.administrator)
    (row,) = model._default_manager.all()
    page = client.get(address(model, "change", row.pk))
    assert page.status_code == 200
    assert 'name="_save"' not in page.content.decode()
    for what, *args in (("add",), ("change", row.pk), ("delete", row.pk)):
        assert (
            client.post(address(model, what, *args), {"kind": "moved", "size": "9", "post": "yes"}).status_code == 403
        )
    ticked = {"action": "delete_selected", "_selected_action": row.pk, "post": "yes"}
    client.post(address(model, "changelist"), ticked)
    assert model._default_manager.filter(pk=row.pk).exists()
    assert book_check(kitchen=cast.kitchen).findings == ()


def test_what_the_safety_plan_allows_is_set_with_an_entry_for_each_change(cast: Cast) -> None:
    client = signed_in(cast.administrator)
    sent = {"kitchen": cast.kitchen.pk, "reheats_allowed": 0, "second_person_excludes": "on", "review_working_days": 7}
    assert client.post(address(SafetyPlan, "add"), sent).status_code == 302
    plan = SafetyPlan.objects.get()
    assert (plan.kitchen, plan.reheats_allowed, plan.second_person_excludes) == (cast.kitchen, 0, True)
    again = client.post(address(SafetyPlan, "change", plan.pk), sent | {"reheats_allowed": 1})
    assert again.status_code == 302
    told = [each.content for each in Entry.objects.filter(kind="safety_plan_changed").order_by("number")]
    assert [(each["before"]["reheats_allowed"], each["now"]["reheats_allowed"]) for each in told] == [(1, 0), (0, 1)]
    refused = client.post(address(SafetyPlan, "change", plan.pk), sent | {"reheats_allowed": 2})
    assert refused.status_code == 200
    assert SafetyPlan.objects.get().reheats_allowed == 1


def test_limits_of_care_are_set_within_bounds_with_an_entry_for_each_change(cast: Cast) -> None:
    client = signed_in(cast.administrator)
    usual = CareSettings(kitchen=cast.kitchen)
    sent = {name: getattr(usual, name) for name in FIELDS} | {"kitchen": cast.kitchen.pk, "store_chilled_c": "4.0"}
    assert client.post(address(CareSettings, "add"), sent).status_code == 302
    told = Entry.objects.get(kind="care_settings_changed").content
    assert (told["before"]["store_chilled_c"], told["now"]["store_chilled_c"]) == ("5", "4.0")
    row = CareSettings.objects.get()
    for wrong in ({"store_chilled_c": "30"}, {"most_off_c": "2"}, {"receive_frozen_c": "0"}, {"check_every_days": "0"}):
        assert client.post(address(CareSettings, "change", row.pk), sent | wrong).status_code == 200
    assert CareSettings.objects.get().store_chilled_c == 4
    assert Entry.objects.filter(kind="care_settings_changed").count() == 1


@pytest.mark.parametrize("role", ["manager", "cook", "inspector"])
def test_nobody_else_reaches_the_set_up(cast: Cast, planning_week: PlanningWeek, role: str) -> None:
    client = signed_in(getattr(cast, role))
    assert client.get(address(Pot, "changelist")).status_code == 403
    assert client.get(address(Membership, "changelist")).status_code == 403
    assert client.post(address(Pot, "add"), {}).status_code == 403
    assert client.post(address(SafetyPlan, "add"), {}).status_code == 403


def test_only_rules_for_broth_that_state_minutes_can_be_chosen_and_none_is_chosen_unasked(
    cast: Cast, planning_week: PlanningWeek
) -> None:
    client = signed_in(cast.administrator)
    page = address(Kitchen, "change", cast.kitchen.pk)
    form = client.get(page).context["adminform"].form
    offered = {code for code, _ in form.fields["cooling_rule"].choices}
    assert offered >= {"", "FDA_A", "FDA_A_C", "AU_322"}
    assert not offered & {"FSIS_B_OPT3", "FDA_B", "FDA_C", "EU_852"}
    sent = {name: form[name].value() for name in form.fields}
    for refused in ("EU_852", "my own", ""):
        answer = client.post(page, sent | {"cooling_rule": refused})
        assert answer.status_code == 200
        assert set(answer.context["adminform"].form.errors) == {"cooling_rule"}
    assert client.post(page, sent | {"cooling_rule": "FDA_A"}).status_code == 302
    assert Kitchen.objects.get(pk=cast.kitchen.pk).cooling_rule == "FDA_A"


def test_a_pot_cannot_be_moved_onto_another_kitchens_burner(cast: Cast, planning_week: PlanningWeek) -> None:
    week_import(week=a_week(kitchen=a_kitchen(code="elsewhere", name="Kitchen elsewhere")), by=cast.outsider)
    foreign = Pot.objects.filter(kitchen=cast.outsider.kitchen).select_related("heat_source").first()
    own = Pot.objects.get(kitchen=cast.kitchen, code="tall")
    assert foreign is not None
    client = signed_in(cast.administrator)
    form = client.get(address(Pot, "change", own.pk)).context["adminform"].form
    typed = {name: form[name].value() for name in form.fields}
    refused = client.post(address(Pot, "change", own.pk), typed | {"heat_source": foreign.heat_source_id})
    assert "heat_source" in refused.context["adminform"].form.errors
    accepted = client.post(address(Pot, "change", own.pk), typed | {"name": "Tall pot by the door"})
    assert accepted.status_code == 302
    own.refresh_from_db()
    assert own.name == "Tall pot by the door"


def test_a_pot_beyond_the_bounds_is_refused_with_a_sentence(cast: Cast, planning_week: PlanningWeek) -> None:
    own = Pot.objects.get(kitchen=cast.kitchen, code="tall")
    client = signed_in(cast.administrator)
    form = client.get(address(Pot, "change", own.pk)).context["adminform"].form
    typed = {name: form[name].value() for name in form.fields}
    refused = client.post(address(Pot, "change", own.pk), typed | {"inner_height_mm": 9000})
    assert "inner_height_mm: allowed are 100 to 2000 mm" in refused.content.decode()
