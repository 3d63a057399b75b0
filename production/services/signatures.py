"""Signing: the password again, and not to be guessed by trying, however many windows are open at once."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F

from production.domain.errors import NotAllowed
from production.models import Membership, SignatureTries

MOST_WRONG = 5
PAUSE = timedelta(minutes=15)


def signature_confirm(*, by: Membership, password: str, now: datetime) -> None:
    """Refuse unless this is the person's password; after five wrong ones signing pauses for a quarter of an hour.

    The try is counted before the password is looked at, in a transaction of its own: a refusal leaves it counted.
    """
    if not _try_taken(by, now):
        raise _pausing(by, now)
    if not by.user.check_password(password):
        raise _wrong(by)
    SignatureTries.objects.filter(membership=by).update(failed=0)


@transaction.atomic
def _try_taken(by: Membership, now: datetime) -> bool:
    """Take one of the tries that are left; whoever changes the row has it."""
    rows = SignatureTries.objects.filter(membership=by)
    if not rows.exists():
        SignatureTries.objects.get_or_create(membership=by, defaults={"last_at": now})
    if rows.filter(failed__lt=MOST_WRONG).update(failed=F("failed") + 1, last_at=now):
        return True
    return bool(rows.filter(last_at__lte=now - PAUSE).update(failed=1, last_at=now))


def _wrong(by: Membership) -> NotAllowed:
    left = MOST_WRONG - SignatureTries.objects.values_list("failed", flat=True).get(membership=by)
    tries = "1 more try" if left == 1 else f"{left} more tries"
    pause = f"signing pauses for {_minutes(PAUSE)} min"
    return NotAllowed(
        "This is not your password; nothing was signed.",
        code="signature-password-wrong",
        numbers={"tries_left": left},
        remedy=f"Type it again: {tries} before {pause}." if left else f"That was the last try: {pause}.",
    )


def _pausing(by: Membership, now: datetime) -> NotAllowed:
    last_at = SignatureTries.objects.values_list("last_at", flat=True).get(membership=by)
    left = _minutes(last_at + PAUSE - now)
    return NotAllowed(
        f"The password was wrong {MOST_WRONG} times; signing pauses.",
        code="signature-pauses",
        numbers={"minutes_left": left},
        remedy=f"Try again in {left} min. If that was not you, change your password and tell the administrator.",
    )


def _minutes(span: timedelta) -> int:
    return max(1, -(-round(span.total_seconds()) // 60))
