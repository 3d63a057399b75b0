"""Who may do what: the whole table, and who finds nothing at all."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import Http404

from production.domain.errors import NotAllowed
from production.selectors.access import Action, may, membership_for, memberships_of, require
from tests.conftest import Cast

READ = "see_week see_plan see_purchasing see_documents see_workings see_records inspect export_week export_records"
TABLE = {
    "manager": (
        f"{READ} import_week edit_orders make_plan publish_plan issue_documents"
        " record decide_lots close_deviations keep_thermometers"
    ),
    "cook": "see_plan see_documents see_workings see_records record",
    "inspector": f"{READ} verify",
    "administrator": f"{READ} set_up manage_people",
}


@pytest.mark.parametrize("role", TABLE)
def test_each_role_may_do_exactly_this(cast: Cast, role: str) -> None:
    by = getattr(cast, role)
    assert {each.value for each in Action if may(by, each)} == set(TABLE[role].split())


def test_an_inspector_signs_verifications_and_changes_nothing_else(cast: Cast) -> None:
    changing = [each for each in Action if not each.value.startswith(("see_", "export_", "inspect"))]
    assert len(changing) == 12
    assert [each for each in changing if may(cast.inspector, each)] == [Action.VERIFY]


def test_a_refusal_names_who_may(cast: Cast) -> None:
    with pytest.raises(NotAllowed) as refused:
        require(cast.cook, Action.SEE_PURCHASING)
    assert refused.value.sentence == "Your role here (cook) may not see what is bought and its prices."
    assert refused.value.remedy == "Ask the manager or inspector or administrator."


def test_a_member_finds_the_kitchen(cast: Cast) -> None:
    for by in cast.members():
        assert membership_for(user=by.user, kitchen_code="small") == by
        assert list(memberships_of(user=by.user)) == [by]


@pytest.mark.parametrize("code", ["small", "no-such-kitchen"])
def test_a_stranger_cannot_tell_a_kitchen_from_one_that_does_not_exist(cast: Cast, code: str) -> None:
    said = set()
    for user in (cast.stranger, cast.outsider.user, AnonymousUser()):
        with pytest.raises(Http404) as nothing:
            membership_for(user=user, kitchen_code=code)
        said.add(str(nothing.value))
    assert said == {"There is no such kitchen."}


def test_somebody_who_has_left_finds_nothing(cast: Cast) -> None:
    cast.cook.user.is_active = False
    cast.cook.user.save()
    with pytest.raises(Http404):
        membership_for(user=cast.cook.user, kitchen_code="small")
