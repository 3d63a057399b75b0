"""Open a kitchen from its first week file, with the first two people who may sign in."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from production.domain.errors import BadWeekFile, PotwrightError
from production.domain.week_file import parse_week
from production.services.kitchens import kitchen_open


class Command(BaseCommand):
    help = "Make the kitchen of a week file, its administrator and its manager; passwords are printed once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="Week file of the new kitchen.")
        parser.add_argument("--administrator", required=True, metavar="NAME", help="Sign-in name of the administrator.")
        parser.add_argument("--manager", required=True, metavar="NAME", help="Sign-in name of the manager.")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            week = parse_week(options["file"].read_bytes())
            passwords = kitchen_open(week=week, administrator=options["administrator"], manager=options["manager"])
        except OSError as error:
            raise CommandError(f"The file cannot be read: {error}") from None
        except BadWeekFile as error:
            raise CommandError("\n".join([error.sentence, *(each.sentence for each in error.problems)])) from None
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        except PotwrightError as error:
            raise CommandError(f"{error.sentence} {error.remedy}") from None
        self.stdout.write(f"{week.kitchen.name} is open, week from {week.starts_on}. Passwords, shown only now:")
        for name, password in passwords.items():
            self.stdout.write(f"  {name:<20} {password}")
