"""New kitchens and the people in them."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from production.domain.errors import NotAllowed
from production.models import Kitchen, Membership
from production.services.kitchens import kitchen_create, membership_set
from tests.builders import a_kitchen
from tests.conftest import Cast


@pytest.mark.django_db
def test_a_kitchen_outside_the_range_of_the_physics_is_refused() -> None:
    with pytest.raises(ValidationError, match="altitude_m: allowed are -100 to 4000 m"):
        kitchen_create(kitchen=a_kitchen(altitude_m=8848.0))
    assert not Kitchen.objects.exists()


def test_a_code_names_one_kitchen_only(cast: Cast) -> None:
    with pytest.raises(ValidationError, match="already exists"):
        kitchen_create(kitchen=a_kitchen())


def test_an_administrator_gives_a_person_a_role_and_another_one_later(cast: Cast) -> None:
    membership_set(kitchen=cast.kitchen, user=cast.stranger, role="cook", by=cast.administrator)
    membership_set(kitchen=cast.kitchen, user=cast.stranger, role="manager", by=cast.administrator)
    assert list(Membership.objects.filter(user=cast.stranger).values_list("role", flat=True)) == ["manager"]


@pytest.mark.parametrize("role", ["manager", "cook", "inspector"])
def test_only_an_administrator_says_who_works_here(cast: Cast, role: str) -> None:
    with pytest.raises(NotAllowed):
        membership_set(kitchen=cast.kitchen, user=cast.stranger, role="cook", by=getattr(cast, role))
    assert not Membership.objects.filter(user=cast.stranger).exists()


def test_an_administrator_has_no_say_in_another_kitchen(cast: Cast) -> None:
    with pytest.raises(NotAllowed):
        membership_set(kitchen=cast.outsider.kitchen, user=cast.stranger, role="cook", by=cast.administrator)
    assert not Membership.objects.filter(user=cast.stranger).exists()


def test_a_role_that_does_not_exist_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError):
        membership_set(kitchen=cast.kitchen, user=cast.stranger, role="owner", by=None)
