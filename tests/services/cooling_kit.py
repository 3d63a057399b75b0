"""A run of the small test kitchen whose first draw has just been drawn off, and ways to write into its cooling logs."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from production.domain.records.verdicts import State
from production.domain.sheets import batch_sheets, content_to_json
from production.models import CoolingRecord, Entry, Membership, PlanningWeek, RunRecord, Thermometer
from production.selectors.fingerprints import week_fingerprint
from production.selectors.plans import plan_content
from production.selectors.snapshots import week_snapshot
from production.services.coolings import coolings_open
from production.services.floor import floor_take
from production.services.floor_answers import Answer
from production.services.plans import plan_make, plan_store
from production.services.records import Draft, entries_append
from tests.kept import kept

_KEYS = count(1)
GOOD = ((2, "80"), (25, "57"), (60, "35"), (110, "21"), (300, "5"))


@dataclass(frozen=True, slots=True)
class _Planned:
    """The small kitchen's plan, its first run that has a draw to cool, and when that is drawn off."""

    made: Any
    code: str
    sheet: dict[str, Any]
    begun_at: datetime
    drawn_at: datetime


_PLANS: dict[str, _Planned] = {}


def _planned(by: Membership, week: PlanningWeek) -> _Planned:
    """It is made once for each state of the week."""
    stands = week_fingerprint(week_snapshot(kitchen=by.kitchen, week_id=week.pk))
    if stands not in _PLANS:
        made = plan_make(kitchen=by.kitchen, week_id=week.pk)
        content = plan_content(plan=plan_store(made=made, kitchen=by.kitchen, week_id=week.pk, user_id=None))
        run = next(each for each in content.runs if each.draws)
        sheet = next(each for each in batch_sheets(content) if each.run == run.code)
        drawn = next(each.start_at for each in run.draws if each.name == "first").astimezone(UTC)
        _PLANS[made.input_sha256] = _Planned(made, run.code, content_to_json(sheet), sheet.start_at, drawn)
        return _PLANS[made.input_sha256]
    return _PLANS[stands]


def a_run(by: Membership, week: PlanningWeek) -> RunRecord:
    """The plan's first run that has a draw to cool, begun where the plan begins it."""
    return kept(f"run of {by.pk}", lambda: _run(by, week))


def _run(by: Membership, week: PlanningWeek) -> RunRecord:
    planned = _planned(by, week)
    plan = plan_store(made=planned.made, kitchen=by.kitchen, week_id=week.pk, user_id=None)
    return RunRecord.objects.create(
        kitchen=by.kitchen,
        week=week,
        plan=plan,
        code=planned.code,
        subject=f"run/{week.starts_on.isoformat()}/{planned.code}",
        sheet=deepcopy(planned.sheet),  # a test may write into its run
        begun_at=planned.begun_at,
    )


def drawn_at(run: RunRecord) -> datetime:
    """When the plan draws its first draw off."""
    return _PLANS[run.plan.input_sha256].drawn_at


def opened(by: Membership, run: RunRecord, *, at: datetime | None = None) -> CoolingRecord:
    """The first log of the first draw."""
    moment = drawn_at(run) if at is None else at
    return coolings_open(by=by, run=run, draw="first", at=moment, key=f"drawn-{run.code}", now=moment)[0]


def note(by: Membership, subject: str, kind: str, at: datetime, content: Mapping[str, Any]) -> Entry:
    """An entry that somebody else keeps."""
    draft = Draft(kind=kind, subject=subject, content=dict(content), happened_at=at, key=f"note-{next(_KEYS)}")
    return entries_append(by=by, drafts=[draft], now=at).entries[0]


def sent(
    kind: str,
    subject: str,
    at: datetime,
    content: Mapping[str, Any],
    *,
    key: str = "",
    corrects: str = "",
    reason: str = "",
) -> dict[str, Any]:
    """An entry as a tablet sends it."""
    return {
        "key": key or f"tablet-{next(_KEYS)}",
        "kind": kind,
        "subject": subject,
        "content": dict(content),
        "happened_at": at.isoformat(),
        "corrects": corrects or None,
        "reason": reason,
    }


def take(
    by: Membership, *entries: Mapping[str, Any], now: datetime, device_now: datetime | None = None
) -> list[Answer]:
    """What the floor answers."""
    frame: dict[str, Any] = {"entries": [dict(each) for each in entries]}
    if device_now is not None:
        frame["device_now"] = device_now.isoformat()
    return list(floor_take(by=by, body=frame, now=now).answers)


def read(by: Membership, cooling: CoolingRecord, minute: float, temp: str, **content: Any) -> Answer:
    """Somebody reads a thermometer so many minutes after the opening, and writes it down at once."""
    at = cooling.opened_at + timedelta(minutes=minute)
    told = {"temp": temp, "unit": "C"} | content
    return take(by, sent("reading", cooling.subject, at, told), now=at)[0]


def read_all(by: Membership, cooling: CoolingRecord, points: tuple[tuple[float, str], ...] = GOOD) -> None:
    """Several readings, one after the other."""
    for minute, temp in points:
        answer = read(by, cooling, minute, temp)
        assert answer.outcome in ("kept", "questioned"), answer


def act(
    by: Membership, cooling: CoolingRecord, kind: str, minute: float, content: Mapping[str, Any], *, reason: str = ""
) -> Answer:
    """Something is done to a cooling so many minutes after the opening."""
    at = cooling.opened_at + timedelta(minutes=minute)
    return take(by, sent(kind, cooling.subject, at, content, reason=reason), now=at)[0]


def again(cooling: CoolingRecord) -> CoolingRecord:
    """The row as it is now."""
    return CoolingRecord.objects.select_related("kitchen", "device", "run", "week").get(pk=cooling.pk)


def verdict(cooling: CoolingRecord) -> State | None:
    """The verdict of a closed log."""
    found = again(cooling).verdict
    return State(found) if found else None


def a_thermometer(by: Membership, **fields: Any) -> Thermometer:
    """A thermometer that is checked for years to come."""
    told: dict[str, Any] = {
        "code": "t1",
        "name": "Red handle",
        "kind": "hand",
        "unit": "C",
        "check_due_on": datetime(2999, 1, 1, tzinfo=UTC).date(),
    }
    return Thermometer.objects.create(kitchen=by.kitchen, **(told | fields))
