"""Compile the planner's search, so that nobody waits for it later."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand

from production.domain.plan.swift import warm


class Command(BaseCommand):
    help = "Compile the planner's search and keep the machine code; done at once where it is there already."
    requires_system_checks: list[str] = []  # noqa: RUF012  (Django's own attribute)

    def handle(self, *_args: Any, **_options: Any) -> None:
        began = time.monotonic()
        warm()
        self.stdout.write(f"The planner's machine code is ready ({time.monotonic() - began:.0f} s).")
