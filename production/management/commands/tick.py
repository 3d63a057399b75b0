"""Look every two seconds for jobs whose bell was lost or whose worker died; find late logs and warm stores; sign."""

from __future__ import annotations

import logging
import signal
import threading
import time
from argparse import ArgumentParser
from types import FrameType
from typing import Any

from django.core.management.base import BaseCommand
from django.db import OperationalError, close_old_connections
from django.utils import timezone

from production.services.checkpoints import checkpoints_due
from production.services.jobs import jobs_sweep
from production.services.late_logs import late_logs_find
from production.services.storage_temps import stores_watch

SIGN_EVERY_S = 600.0  # how often it looks for books to sign, open logs and warm stores

logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Ring again for lost background jobs, every two seconds until told to stop."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="Look once and stop.")
        parser.add_argument("--every", type=float, default=2.0, metavar="SECONDS", help="Time between two looks.")

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["once"]:
            self.stdout.write(f"Jobs rung for again: {jobs_sweep(now=timezone.now())}")
            self.stdout.write(f"Late logs found: {late_logs_find(now=timezone.now())}")
            self.stdout.write(f"Stores too warm: {stores_watch(now=timezone.now())}")
            self.stdout.write(f"Books signed: {checkpoints_due(now=timezone.now())}")
            return
        stop = threading.Event()

        def asked_to_stop(_number: int, _frame: FrameType | None) -> None:
            stop.set()

        signal.signal(signal.SIGTERM, asked_to_stop)
        signal.signal(signal.SIGINT, asked_to_stop)
        sign_at = 0.0
        while not stop.is_set():
            close_old_connections()
            try:
                jobs_sweep(now=timezone.now())
                if time.monotonic() >= sign_at:
                    late_logs_find(now=timezone.now())
                    stores_watch(now=timezone.now())
                    checkpoints_due(now=timezone.now())
                    sign_at = time.monotonic() + SIGN_EVERY_S
            except OperationalError:
                logger.exception("The database is away; looking again.")
            stop.wait(options["every"])
