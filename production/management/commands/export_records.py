"""Write the export package of some days to a file."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.http import Http404

from production.domain.errors import PotwrightError
from production.selectors.access import Action, membership_for, require
from production.services.exports import package_write


class Command(BaseCommand):
    help = "Write the records of some days as a package that can be checked without this program."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", required=True, metavar="CODE", help="The kitchen.")
        parser.add_argument("--person", required=True, metavar="NAME", help="Sign-in name of who takes them out.")
        parser.add_argument("--from", required=True, type=date.fromisoformat, metavar="DAY", dest="first_day")
        parser.add_argument("--to", required=True, type=date.fromisoformat, metavar="DAY", dest="last_day")
        parser.add_argument("--out", required=True, type=Path, metavar="FILE", help="The ZIP file that is written.")

    def handle(self, *_args: Any, **options: Any) -> None:
        person = User.objects.filter(username=options["person"]).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {options['person']!r}.")
        try:
            by = membership_for(user=person, kitchen_code=options["kitchen"])
            require(by, Action.EXPORT_RECORDS)
            made = package_write(
                by=by,
                first_day=options["first_day"],
                last_day=options["last_day"],
                path=options["out"],
                progress=self._tell,
            )
        except Http404:
            raise CommandError(f"{options['person']} has no kitchen {options['kitchen']!r}.") from None
        except (PotwrightError, OSError) as error:
            raise CommandError(str(error)) from None
        self.stdout.write(
            f"{options['out']}: {made['records']} of {made['entries']} records, {made['logs']} cooling logs, "
            f"{made['runs']} batch records, {made['bytes'] / 1e6:.1f} MB."
        )

    def _tell(self, done: int, total: int, note: str) -> None:
        if sys.stderr.isatty():
            self.stderr.write(f"{note}: {done} of {total}")
