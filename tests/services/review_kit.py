"""Closed logs of the small test kitchen, with lots, for tests of deviations and reviews."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import count

from production.models import CoolingRecord, Deviation, Lot, Membership, RunRecord
from production.selectors.lots import packing_choices
from production.services.lots import lot_make
from tests.conftest import Cast
from tests.services.cooling_kit import GOOD, act, again, opened, read_all, sent, take

MISSED = ((2, "80"), (25, "57"), (150, "30"))
_KEYS = count(1)


def key() -> str:
    """A key that no other request of the tests has."""
    return f"review-{next(_KEYS)}"


def after(cooling: CoolingRecord, minutes: float) -> datetime:
    return cooling.opened_at + timedelta(minutes=minutes)


def a_log(by: Membership, run: RunRecord, points: tuple[tuple[float, str], ...] = GOOD) -> CoolingRecord:
    """The first log of the run's first draw, read and closed."""
    cooling = opened(by, run)
    return closed(by, cooling, points)


def closed(by: Membership, cooling: CoolingRecord, points: tuple[tuple[float, str], ...] = GOOD) -> CoolingRecord:
    """Read a log and close it, given up where it shows too little."""
    read_all(by, cooling, points)
    minute = points[-1][0] + 1
    answer = act(by, cooling, "cooling_closed", minute, {"given_up": True}, reason="Nobody read it in time")
    assert answer.outcome == "kept", answer
    return again(cooling)


def another(by: Membership, cooling: CoolingRecord, group: int) -> CoolingRecord:
    """One more group of the same draw, opened a minute later than the one before."""
    subject = f"{cooling.subject.rsplit('/', 1)[0]}/{group}.1"
    at = after(cooling, group)
    (answer,) = take(by, sent("cooling_opened", subject, at, {}), now=at)
    assert answer.outcome == "kept", answer
    return CoolingRecord.objects.get(subject=subject)


def a_lot_of(cast: Cast, cooling: CoolingRecord, containers: int = 4) -> Lot:
    """Some of what it cooled, packed."""
    choices = packing_choices(by=cast.cook, cooling=cooling.subject)
    assert choices is not None
    at = after(cooling, 400)
    return lot_make(
        by=cast.cook,
        coolings=[cooling.subject],
        product=choices.products[0][0],
        containers=containers,
        store=choices.stores[0][0],
        packed_at=at,
        key=key(),
        now=at,
    )


def the_deviation(cooling: CoolingRecord, kind: str = "cooling") -> Deviation:
    return Deviation.objects.get(cooling=cooling, kind=kind)
