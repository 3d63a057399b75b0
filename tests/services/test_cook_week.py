"""The command that cooks the demo kitchen's running week: only for a demo, and only once it is loaded."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.test import override_settings

from production.models import Entry
from tests.conftest import Cast

pytestmark = pytest.mark.django_db


def test_a_live_installation_refuses_records_of_a_demo(cast: Cast) -> None:
    with override_settings(SETTINGS_MODULE="production.settings.live"), pytest.raises(CommandError, match="live"):
        call_command("cook_week")
    assert not Entry.objects.exists()


def test_without_a_demo_kitchen_it_says_what_to_do_first() -> None:
    with pytest.raises(CommandError, match="load_demo"):
        call_command("cook_week")
