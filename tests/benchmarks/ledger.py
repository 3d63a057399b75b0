"""How long writing down and verifying take: `python -m tests.benchmarks.ledger --entries 100000`.

Works in a database of its own, which is thrown away: SQLite in a file, or PostgreSQL where POTWRIGHT_TEST_DATABASE_URL
names one. Times are of the clock on the wall and depend on what else the machine does.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

BEGUN = datetime(2027, 2, 1, 5, 0, tzinfo=UTC)
TOGETHER = 500
ALONE = 200
SHOWN = 60  # entries of one log


@dataclass(frozen=True, slots=True)
class Measured:
    what: str
    seconds: float
    computing_s: float  # of this process; what the machine does besides is not in it, nor what PostgreSQL does
    wanted_s: float | None = None

    def line(self) -> str:
        wanted = "" if self.wanted_s is None else f"{self.wanted_s:g}"
        kept = "" if self.wanted_s is None else ("yes" if self.seconds < self.wanted_s else "NO")
        return f"| {self.what} | {self.seconds:.2f} | {self.computing_s:.2f} | {wanted} | {kept} |"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--entries", type=int, default=100_000)
    entries = asked.parse_args().entries
    os.environ["DJANGO_SETTINGS_MODULE"] = "production.settings.test"
    import django

    django.setup()
    from django.db import connection

    with database_of_its_own():
        rows = [each.line() for each in measured(entries)]
    print(f"{entries} entries, {connection.vendor}, {os.cpu_count()} cores\n")  # noqa: T201
    print("\n".join(["| | seconds | of these computing | wanted | kept |", "|---|---|---|---|---|", *rows]))  # noqa: T201


@contextmanager
def database_of_its_own() -> Iterator[None]:
    from django.db import connection

    connection.creation.create_test_db(verbosity=0)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(str(connection.settings_dict["NAME"]), verbosity=0)


def measured(count: int) -> Iterator[Measured]:
    """Append in bulk and one by one, sign, verify, prove; the book must be found whole."""
    from production.models import Entry
    from production.selectors.record_check import book_check
    from production.selectors.records import proofs_of
    from production.services.checkpoints import checkpoint_now
    from production.services.records import entries_append

    by = a_cook()
    cooling = a_cooling(by)

    def bulk() -> None:
        for start in range(0, count, TOGETHER):
            drafts = [draft_of(cooling, place) for place in range(start, min(start + TOGETHER, count))]
            entries_append(by=by, drafts=drafts, now=BEGUN)

    def one_by_one() -> None:
        for place in range(ALONE):
            entries_append(by=by, drafts=[draft_of(cooling, count + place)], now=BEGUN)

    yield timed(f"append {count} in bulks of {TOGETHER}", bulk)
    yield timed(f"append {ALONE} one by one", one_by_one)
    put_into_the_log(cooling)
    checkpoint = checkpoint_now(kitchen_id=by.kitchen_id, now=BEGUN)
    shown = list(Entry.objects.select_related("corrects").order_by("-number")[:SHOWN])
    yield timed(f"prove the {SHOWN} entries of one log", lambda: proofs_of(checkpoint=checkpoint, entries=shown), 2.0)
    yield timed("verify all, and the readings in their log", lambda: whole(book_check(kitchen=by.kitchen)), 5.0)


def whole(check: Any) -> None:
    assert check.findings == (), check.findings[:3]
    assert check.entries > ALONE


def timed(what: str, work: Callable[[], object], wanted_s: float | None = None) -> Measured:
    begun, computed = time.perf_counter(), time.process_time()
    work()
    return Measured(what, time.perf_counter() - begun, time.process_time() - computed, wanted_s)


def a_cook() -> Any:
    from django.contrib.auth.models import User

    from production.services.kitchens import kitchen_create, membership_set
    from tests.builders import a_kitchen

    kitchen = kitchen_create(kitchen=a_kitchen())
    user = User.objects.create_user("cook", first_name="Kim", last_name="Ostrander")
    return membership_set(kitchen=kitchen, user=user, role="manager", by=None)


def a_cooling(by: Any) -> Any:
    from production.services.week_import import week_import
    from tests.builders import a_week
    from tests.services.cooling_kit import a_run, note, opened

    run = a_run(by, week_import(week=a_week(), by=by))
    note(by, run.subject, "run_begun", run.begun_at, {})
    return opened(by, run)


def draft_of(cooling: Any, place: int) -> Any:
    from production.services.records import Draft

    temp = f"{90 - place % 850 / 10:.1f}"
    return Draft(
        kind="reading",
        subject=cooling.subject,
        content={"temp": temp, "unit": "C", "thermometer": "T1", "confirmed": False, "counted": f"{temp} C"},
        happened_at=BEGUN + timedelta(seconds=place),
        key=f"probe-{place}",
    )


def put_into_the_log(cooling: Any) -> None:
    from production.models import Entry, Reading

    entries = Entry.objects.filter(kind="reading").order_by("number").iterator(chunk_size=2000)
    Reading.objects.bulk_create(
        [
            Reading(cooling=cooling, entry=each, measured_at=each.happened_at, temp=each.content["temp"], unit="C")
            for each in entries
        ],
        batch_size=500,
    )


if __name__ == "__main__":
    main()
