"""Cook the demo kitchen's running week up to now, so that its floor, lots and logs hold something to look at."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from production.domain.week_file import parse_week
from production.management.commands.load_demo import FIXTURE
from production.services.demo import DEMO_SECONDS, demo_member
from production.services.demo_week import running_week_cook


class Command(BaseCommand):
    help = "Plan, publish and cook the demo kitchen's running week up to now; once. Never on a live installation."

    def handle(self, *_args: Any, **_options: Any) -> None:
        if settings.SETTINGS_MODULE == "production.settings.live":
            raise CommandError("This is a live installation; records of a demo do not belong here.")
        manager, cook = demo_member(name="manager"), demo_member(name="cook")
        if manager is None or cook is None:
            raise CommandError("The demo kitchen is not there yet. Run load_demo first.")
        seconds = min(DEMO_SECONDS, settings.PLAN_SECONDS)
        week = parse_week(FIXTURE.read_bytes())
        row = running_week_cook(week=week, manager=manager, cook=cook, now=timezone.now(), seconds=seconds)
        said = f"cooked the week from {row.starts_on} up to now" if row else "has been cooking already; nothing done"
        self.stdout.write(f"{manager.kitchen} {said}")
