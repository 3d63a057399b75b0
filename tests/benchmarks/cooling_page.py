"""How long the page of all that cools takes: `python -m tests.benchmarks.cooling_page --groups 30 --readings 2400`.

A kitchen in a database of its own, thrown away afterwards; every group holds one reading a minute of a made-up cooling
(Newton's law with noise), written through the service for gateways in posts of 5,000. Beside the page stands what it
would take to read every reading and judge each log anew.
"""

from __future__ import annotations

import argparse
import math
import os
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from statistics import median
from typing import TYPE_CHECKING, Any

from tests.benchmarks.ledger import database_of_its_own

if TYPE_CHECKING:
    from production.models import CoolingRecord, Membership

BEGUN = datetime(2027, 2, 1, 20, 0, tzinfo=UTC)
POST = 5000
TIMES = 7
WANTED_MS, WANTED_KB = 300.0, 150.0


@dataclass(frozen=True, slots=True)
class Measured:
    what: str
    value: float
    unit: str
    wanted: float | None = None

    def line(self) -> str:
        wanted = "" if self.wanted is None else f"{self.wanted:g}"
        kept = "" if self.wanted is None else ("yes" if self.value < self.wanted else "NO")
        return f"| {self.what} | {self.value:.1f} | {self.unit} | {wanted} | {kept} |"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--groups", type=int, default=30)
    asked.add_argument("--readings", type=int, default=2400)
    told = asked.parse_args()
    os.environ["DJANGO_SETTINGS_MODULE"] = "production.settings.test"
    import django

    django.setup()
    with database_of_its_own():
        lines = [each.line() for each in measured(told.groups, told.readings)]
    print(f"{told.groups} groups with {told.readings} readings each, {os.cpu_count()} cores\n")  # noqa: T201
    print("\n".join(["| | | | wanted | kept |", "|---|---|---|---|---|", *lines]))  # noqa: T201


def measured(groups: int, readings: int) -> list[Measured]:
    """Build the kitchen, then time import, selector, page and the naive way."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from production.selectors.coolings import coolings_now

    by = a_kitchen_with(groups)
    imported_s = timed(lambda: _import(by, groups, readings))
    now = BEGUN + timedelta(minutes=readings)
    _warm(by, now)
    with CaptureQueriesContext(connection) as captured:
        coolings_now(by=by, now=now)
    queries = len(captured)
    page, size = _page(by, now)
    return [
        Measured("import through the service for gateways", imported_s, "s"),
        Measured("readings a second", groups * readings / imported_s, "1/s"),
        Measured("what cools, from digest and curve", 1000 * best_of(lambda: coolings_now(by=by, now=now)), "ms"),
        Measured("queries", float(queries), ""),
        Measured("the page, all of it", 1000 * page, "ms", WANTED_MS),
        Measured("its size", size / 1024, "kB", WANTED_KB),
        Measured("naive: every reading read and judged", 1000 * timed(lambda: _naive(by, now)), "ms"),
    ]


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def best_of(work: Callable[[], object]) -> float:
    """The median of several times."""
    return median(timed(work) for _ in range(TIMES))


def _warm(by: Membership, now: datetime) -> None:
    from production.selectors.coolings import coolings_now

    coolings_now(by=by, now=now)


def _page(by: Membership, now: datetime) -> tuple[float, int]:
    """Seconds and bytes of the page as a browser gets it."""
    import time_machine
    from django.test import Client
    from django.urls import reverse

    client = Client()
    address = reverse("cooling", args=[by.kitchen.code])
    with time_machine.travel(now, tick=True):
        client.force_login(by.user)
        answer = client.get(address)
        if answer.status_code != 200:
            raise RuntimeError(f"The page answers {answer.status_code}.")
        return best_of(lambda: client.get(address)), len(answer.content)


def _naive(by: Membership, now: datetime) -> None:
    """What a page would do that keeps neither digest nor curve."""
    from production.domain.limits import rule
    from production.domain.records.logs import Facts, judge_log, log_digest
    from production.models import CoolingRecord
    from production.services.cooling_rows import kept_readings

    for row in CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, closed_at=None):
        found = log_digest(
            rule(row.rule), kept_readings(row), Facts(event_at=row.event_at, hot_fact_at=row.hot_fact_at)
        )
        judge_log(rule(row.rule), found, now=now)


# --- the kitchen ------------------------------------------------------------------------------------------------------


def a_kitchen_with(groups: int) -> Membership:
    """The small kitchen of the tests with so many groups that cool, a probe in each."""
    from django.contrib.auth.models import User

    from production.models import PlanningWeek, Thermometer
    from production.services.kitchens import kitchen_create, membership_set
    from production.services.records import Draft, entries_append
    from production.services.week_import import week_import
    from tests.builders import a_kitchen, a_week
    from tests.services.cooling_kit import a_run, opened

    kitchen = kitchen_create(kitchen=a_kitchen())
    by = membership_set(kitchen=kitchen, user=User.objects.create_user("manager"), role="manager", by=None)
    week: PlanningWeek = week_import(week=a_week(), by=by)
    first = opened(by, a_run(by, week), at=BEGUN)
    for group in range(1, groups + 1):
        cooling = first if group == 1 else _another(by, first, group)
        code = f"p{group}"
        Thermometer.objects.create(
            kitchen=kitchen, code=code, name=f"Probe {group}", kind="probe", unit="C", check_due_on=date(2030, 1, 1)
        )
        content: dict[str, Any] = {"cooling": cooling.subject}
        draft = Draft(
            kind="probe_placed", subject=f"thermometer/{code}", content=content, happened_at=BEGUN, key=f"place-{code}"
        )
        entries_append(by=by, drafts=[draft], now=BEGUN)
    return by


def _another(by: Membership, first: CoolingRecord, group: int) -> CoolingRecord:
    from production.models import CoolingRecord
    from production.services.floor import floor_take

    subject = f"{first.subject.rsplit('/', 1)[0]}/{group}.1"
    entry = {
        "key": f"open-{group}",
        "kind": "cooling_opened",
        "subject": subject,
        "content": {},
        "happened_at": BEGUN.isoformat(),
    }
    floor_take(by=by, body={"entries": [entry]}, now=BEGUN)
    return CoolingRecord.objects.get(subject=subject)


def _import(by: Membership, groups: int, readings: int) -> None:
    from production.services.cooling_bulk import readings_bulk

    course = [each for group in range(1, groups + 1) for each in _course(group, readings)]
    course.sort(key=lambda each: each.at)
    for start in range(0, len(course), POST):
        post: Sequence[Any] = course[start : start + POST]
        answers = readings_bulk(by=by, readings=post, now=max(each.at for each in post))
        refused = [each for each in answers if each.outcome == "refused"]
        if refused:
            raise RuntimeError(refused[0].sentence)


def _course(group: int, readings: int) -> list[Any]:
    from production.services.cooling_bulk import ProbeReading

    noise = random.Random(group)
    rate = noise.uniform(0.0015, 0.004)  # per minute: some meet the limits, some do not
    return [
        ProbeReading(
            probe=f"p{group}",
            at=BEGUN + timedelta(minutes=minute, seconds=group),
            temp=f"{2 + 84 * math.exp(-rate * minute) + noise.gauss(0, 0.15):.1f}",
        )
        for minute in range(readings)
    ]


if __name__ == "__main__":
    main()
