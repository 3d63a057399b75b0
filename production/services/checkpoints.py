"""Signing how a book stands, so that its end cannot be cut off and its past not be written anew unseen."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models import F, OuterRef, Q, Subquery

from production.domain.ledger import Signer, SignerKey, checkpoint_note, key_id, root_of_peaks
from production.models import Checkpoint, RecordBook

AT_LEAST_EVERY = timedelta(days=1)


@transaction.atomic
def checkpoint_now(*, kitchen_id: int, now: datetime) -> Checkpoint:
    """The signed checkpoint of the book as it stands; a book that has not grown keeps the one it has."""
    signer = signer_of_this_installation()
    RecordBook.objects.get_or_create(kitchen_id=kitchen_id)
    book = RecordBook.objects.select_for_update().select_related("kitchen").get(kitchen_id=kitchen_id)
    there = Checkpoint.objects.filter(kitchen_id=kitchen_id, size=book.size, key_id=key_id(signer.key)).first()
    return there or _signed(book, signer, now.astimezone(UTC))


def _signed(book: RecordBook, signer: Signer, now: datetime) -> Checkpoint:
    root = root_of_peaks([bytes.fromhex(peak) for peak in book.peaks])
    return Checkpoint.objects.create(
        kitchen_id=book.kitchen_id,
        size=book.size,
        root_sha256=root.hex(),
        note=checkpoint_note(kitchen=book.kitchen.code, size=book.size, root=root, at=now, signer=signer),
        signed_at=now,
        key_id=key_id(signer.key),
    )


def checkpoints_due(*, now: datetime) -> int:
    """Sign every book that has grown and was not signed for a day; returns how many were."""
    newest = Checkpoint.objects.filter(kitchen_id=OuterRef("kitchen_id")).order_by("-size", "-pk")
    books = RecordBook.objects.filter(size__gt=0).annotate(
        signed_size=Subquery(newest.values("size")[:1]), signed_at=Subquery(newest.values("signed_at")[:1])
    )
    outdated = Q(signed_size__lt=F("size"), signed_at__lte=now - AT_LEAST_EVERY)
    waiting = books.filter(Q(signed_size__isnull=True) | outdated)
    kitchen_ids = list(waiting.values_list("kitchen_id", flat=True))
    for kitchen_id in kitchen_ids:
        checkpoint_now(kitchen_id=kitchen_id, now=now)
    return len(kitchen_ids)


def signer_of_this_installation() -> Signer:
    """The key of the settings, else the one of the data directory, which is made when it is first needed."""
    return SignerKey.read(settings.SIGNING_KEY or _kept_key(Path(settings.SIGNING_KEY_FILE)))


def _kept_key(path: Path) -> str:
    """Several processes may come at once: each writes a key of its own, and the first to link it wins."""
    if not path.exists():
        draft = path.with_name(f"{path.name}.{secrets.token_hex(8)}")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(SignerKey.new())
            file.flush()
            os.fsync(file.fileno())
        with suppress(FileExistsError):
            path.hardlink_to(draft)
        draft.unlink()
    return path.read_text()
