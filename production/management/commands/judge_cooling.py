"""Judge cooling logs without a server: `manage.py judge_cooling FILE`."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from production.domain.records.case_file import LARGEST_BYTES, BadCases, parse_cases
from production.domain.records.cases import judge_case

REFUSED = 2


class Command(BaseCommand):
    help = (
        "Judge the cooling logs in FILE (a JSON list of cases; - reads standard input) and print a JSON list with the "
        "verdict on each, on each stage, and the reasons. Ends with 2 when the file is refused."
    )
    requires_system_checks: list[str] = []  # noqa: RUF012  (Django's own attribute)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="The cases (JSON), or - for standard input.")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            cases = parse_cases(_content(options["file"]))
        except BadCases as error:
            raise CommandError(_told(error), returncode=REFUSED) from error
        self.stdout.write(json.dumps([judge_case(case) for case in cases], ensure_ascii=False, indent=2))


def _content(name: str) -> bytes:
    """The file, or as much of it as shows that it is too large."""
    if name == "-":
        return sys.stdin.buffer.read(LARGEST_BYTES + 1)
    try:
        with Path(name).open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{name} cannot be read: {error.strerror}.", returncode=REFUSED) from error


def _told(error: BadCases) -> str:
    lines = [error.sentence]
    for problem in error.problems:
        lines.append(f"{problem.pointer or '/'}: {problem.sentence}")
        lines.append(f"    found {problem.found}; allowed: {problem.allowed}")
    return "\n".join([*lines, error.remedy])
