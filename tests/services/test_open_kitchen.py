"""A way in for a new installation: a kitchen, its week and its first people, from one command."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from production.domain.week_file import dumps_week
from production.models import Kitchen, Membership, PlanningWeek
from production.selectors.snapshots import week_snapshot
from tests.builders import a_week

pytestmark = pytest.mark.django_db


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "week.json"
    path.write_text(dumps_week(a_week()), encoding="utf-8")
    return path


def opened(file: Path, administrator: str = "ida", manager: str = "max") -> dict[str, str]:
    said = StringIO()
    call_command("open_kitchen", str(file), administrator=administrator, manager=manager, stdout=said)
    return dict(line.split() for line in said.getvalue().splitlines()[1:])


def test_the_kitchen_is_open_and_both_people_can_sign_in_with_what_is_printed(file: Path) -> None:
    passwords = opened(file)
    assert sorted(passwords) == ["ida", "max"]
    for name, role, staff in (("ida", "administrator", True), ("max", "manager", False)):
        user = authenticate(username=name, password=passwords[name])
        assert isinstance(user, User)
        assert (user.is_staff, user.is_superuser) == (staff, False)
        assert Membership.objects.get(user=user).role == role
    week = PlanningWeek.objects.get()
    assert week_snapshot(kitchen=Kitchen.objects.get(), week_id=week.pk) == a_week()


def test_a_kitchen_that_is_there_is_not_opened_again(file: Path) -> None:
    opened(file)
    with pytest.raises(CommandError, match="There is a kitchen"):
        opened(file, "other", "another")
    assert User.objects.count() == 2


@pytest.mark.parametrize(("administrator", "manager"), [("anna", "max"), ("ida", "anna"), ("ida", "ida"), ("", "max")])
def test_a_name_that_is_taken_or_none_opens_nothing(file: Path, administrator: str, manager: str) -> None:
    User.objects.create_user("anna", password="steam and ladles")
    with pytest.raises(CommandError):
        opened(file, administrator, manager)
    assert not Kitchen.objects.exists()
    assert User.objects.count() == 1


def test_a_wrong_file_opens_nothing_and_every_problem_is_told(file: Path) -> None:
    file.write_text(file.read_text().replace('"FDA_A', '"NO_RULE'), encoding="utf-8")
    with pytest.raises(CommandError, match="NO_RULE"):
        opened(file)
    with pytest.raises(CommandError, match="cannot be read"):
        opened(file.with_name("none.json"))
    assert not Kitchen.objects.exists()
