"""Hold the records against themselves, their checkpoints, and a checkpoint that was kept elsewhere."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.selectors.record_check import BookCheck, book_check, kitchens_with_books

UNGUARDED = (
    "Caution: the database does not refuse changes of the records at present; manage.py migrate puts that right."
)


class Command(BaseCommand):
    help = "Verify the records: exit code 0 when nothing was changed, 1 when something was; the place is named."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", default="", metavar="CODE", help="This kitchen only.")
        parser.add_argument(
            "--checkpoint",
            type=Path,
            action="append",
            default=[],
            metavar="FILE",
            help="A checkpoint that was kept elsewhere, of the kitchen named; may be given several times.",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        notes = _read(options["checkpoint"])
        if notes and not options["kitchen"]:
            raise CommandError("Say with --kitchen which kitchen's checkpoint this is.")
        kitchens = kitchens_with_books(code=options["kitchen"])
        if options["kitchen"] and not kitchens:
            raise CommandError(f"There is no kitchen {options['kitchen']!r}.")
        checks = [book_check(kitchen=each, outside=notes) for each in kitchens]
        for each in checks:
            self._tell(each, given=len(notes))
        if any(each.findings for each in checks):
            sys.exit(1)

    def _tell(self, check: BookCheck, *, given: int) -> None:
        if not check.guarded:
            self.stderr.write(UNGUARDED)
        kept = f"entries: {check.entries}, checkpoints: {check.checkpoints}" + (f" and {given} given" if given else "")
        if not check.findings:
            self.stdout.write(f"{check.kitchen} ({kept}): nothing was changed.")
            return
        self.stdout.write(f"{check.kitchen} ({kept}): NOT as it was written down.")
        for finding in check.findings:
            self.stdout.write(f"  {finding.sentence}")


def _read(paths: list[Path]) -> tuple[str, ...]:
    try:
        return tuple(path.read_text() for path in paths)
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"The checkpoint cannot be read: {error}") from None
