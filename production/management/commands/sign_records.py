"""Sign how the records stand, for keeping elsewhere; and what belongs to the signing key."""

from __future__ import annotations

from argparse import ArgumentParser
from base64 import b64encode
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from production.domain.ledger import SignerKey
from production.selectors.record_check import kitchens_with_books
from production.services.checkpoints import checkpoint_now, signer_of_this_installation


class Command(BaseCommand):
    help = "Print a signed checkpoint of each kitchen's records; give it to somebody who cannot change them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", default="", metavar="CODE", help="This kitchen only.")
        keys = parser.add_mutually_exclusive_group()
        keys.add_argument("--new-key", action="store_true", help="Print a new secret signing key and do nothing else.")
        keys.add_argument("--show-key", action="store_true", help="Print the public key in use and do nothing else.")

    def handle(self, *_args: Any, **options: Any) -> None:
        if options["new_key"]:
            self.stdout.write(SignerKey.new())
            return
        if options["show_key"]:
            self.stdout.write(b64encode(signer_of_this_installation().key).decode())
            return
        kitchens = kitchens_with_books(code=options["kitchen"])
        if options["kitchen"] and not kitchens:
            raise CommandError(f"There is no kitchen {options['kitchen']!r}.")
        for each in kitchens:
            self.stdout.write(checkpoint_now(kitchen_id=each.pk, now=timezone.now()).note)
