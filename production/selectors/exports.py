"""What goes into an export package: which records, and all that proves them. Read in pieces, never at once."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q, QuerySet
from django.http import Http404

from production.domain.errors import OutOfRange
from production.domain.ledger.leaf import Statement
from production.models import Checkpoint, CoolingRecord, Entry, Job, Kitchen, Membership, RunRecord
from production.selectors.access import Action, require
from production.selectors.record_check import trusted_keys
from production.selectors.records import statement_of

RECORDS_EXPORT = "records_export"
LONGEST = timedelta(days=1100)  # three years
AT_ONCE = 2000
TOGETHER = 500  # names per question
MOST_SHOWN = 50


@dataclass(frozen=True, slots=True)
class Chosen:
    """The numbers of the records of a package, and the logs and runs of which it holds the papers."""

    numbers: tuple[int, ...]
    coolings: tuple[str, ...]
    runs: tuple[str, ...]


def period_checked(first_day: date, last_day: date) -> None:
    """Refuse days in the wrong order and periods that are too long."""
    if last_day < first_day:
        raise OutOfRange(
            f"The last day, {last_day}, is before the first, {first_day}.",
            code="days-in-wrong-order",
            remedy="Change the days round.",
        )
    if last_day - first_day >= LONGEST:
        raise OutOfRange(
            f"A package holds at most {LONGEST.days} days.",
            code="period-too-long",
            numbers={"days": (last_day - first_day).days + 1, "most": LONGEST.days},
            remedy="Make several packages; each proves the book from its beginning.",
        )


def records_chosen(*, kitchen: Kitchen, size: int, first_day: date, last_day: date) -> Chosen:
    """What happened or came in on these days by the kitchen's clock; runs and coolings from beginning to end."""
    zone = ZoneInfo(kitchen.time_zone)
    since = datetime.combine(first_day, time(), zone)
    until = datetime.combine(last_day + timedelta(days=1), time(), zone)
    book = Entry.objects.filter(kitchen_id=kitchen.pk, number__lte=size)
    days = Q(made_at__gte=since, made_at__lt=until) | Q(happened_at__gte=since, happened_at__lt=until)
    touched = book.filter(days)
    whole = _whole_subjects(book, touched)
    numbers = set(touched.values_list("number", flat=True).iterator(chunk_size=AT_ONCE))
    for part in _parts(whole):
        numbers |= set(book.filter(subject__in=part).values_list("number", flat=True))
    return Chosen(tuple(sorted(numbers)), _closed_logs(kitchen, whole), _ended_runs(kitchen, whole))


def _whole_subjects(book: QuerySet[Entry], touched: QuerySet[Entry]) -> list[str]:
    """Runs and coolings that the days touch, and the groups from which such coolings were parted."""
    named = touched.filter(Q(subject__startswith="cooling/") | Q(subject__startswith="run/"))
    subjects = set(named.order_by().values_list("subject", flat=True).distinct())
    for part in _parts(sorted(subjects)):
        opened = book.filter(subject__in=part, kind="cooling_opened").values_list("content", flat=True)
        subjects |= {said["parted_from"] for said in opened if said.get("parted_from")}
    return sorted(subjects)


def _closed_logs(kitchen: Kitchen, subjects: Sequence[str]) -> tuple[str, ...]:
    rows = CoolingRecord.objects.filter(kitchen_id=kitchen.pk, closed_at__isnull=False)
    return _among(rows.values_list("subject", flat=True), subjects)


def _ended_runs(kitchen: Kitchen, subjects: Sequence[str]) -> tuple[str, ...]:
    rows = RunRecord.objects.filter(kitchen_id=kitchen.pk, ended_at__isnull=False)
    return _among(rows.values_list("subject", flat=True), subjects)


def _among(found: QuerySet[CoolingRecord, str] | QuerySet[RunRecord, str], subjects: Sequence[str]) -> tuple[str, ...]:
    return tuple(sorted(subject for part in _parts(subjects) for subject in found.filter(subject__in=part)))


def _parts(names: Sequence[str]) -> Iterator[Sequence[str]]:
    return (names[start : start + TOGETHER] for start in range(0, len(names), TOGETHER))


def statements_of(*, kitchen: Kitchen, numbers: Sequence[int]) -> Iterator[Statement]:
    """The records of these numbers, in their order."""
    if not numbers:
        return
    held = frozenset(numbers)
    rows = Entry.objects.filter(kitchen_id=kitchen.pk, number__gte=numbers[0], number__lte=numbers[-1])
    for row in rows.select_related("corrects").order_by("number").iterator(chunk_size=AT_ONCE):
        if row.number in held:
            yield statement_of(row, kitchen_code=kitchen.code)


def leaves_of(*, kitchen: Kitchen, size: int) -> Iterator[str]:
    """The hashes of all records of the book, in their order."""
    rows = Entry.objects.filter(kitchen_id=kitchen.pk, number__lte=size).order_by("number")
    return rows.values_list("leaf_sha256", flat=True).iterator(chunk_size=AT_ONCE)


def notes_of(*, kitchen: Kitchen, size: int) -> list[str]:
    """All checkpoints up to a size of the book."""
    rows = Checkpoint.objects.filter(kitchen_id=kitchen.pk, size__lte=size).order_by("size", "pk")
    return list(rows.values_list("note", flat=True))


def keys_known() -> list[str]:
    """The public keys whose signatures count here."""
    return sorted(b64encode(key).decode() for key in trusted_keys())


# --- packages that were made ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Export:
    """A package that was asked for: the job that packs it, and where its file is."""

    job: Job
    name: str

    @property
    def path(self) -> Path:
        return Path(settings.EXPORT_DIR) / str((self.job.result or {}).get("file", "none"))

    @property
    def is_there(self) -> bool:
        """Files may be thrown away to make room; the package can be made again."""
        return self.path.is_file()


def exports_of(*, by: Membership) -> list[Export]:
    """The packages that were asked for, the newest first."""
    jobs = _jobs(by).select_related("requested_by").order_by("-pk")[:MOST_SHOWN]
    return [_export(by, each) for each in jobs]


def export_of(*, by: Membership, job_id: int) -> Export:
    """A package that is ready."""
    job = _jobs(by).filter(pk=job_id, state=Job.State.DONE).first()
    found = None if job is None else _export(by, job)
    if found is None or not found.is_there:
        raise Http404("There is no such package.")
    return found


def _jobs(by: Membership) -> QuerySet[Job]:
    require(by, Action.EXPORT_RECORDS)
    return Job.objects.filter(kitchen_id=by.kitchen_id, kind=RECORDS_EXPORT)


def _export(by: Membership, job: Job) -> Export:
    """The file bears a name that says what is in it."""
    asked = job.payload
    return Export(job, f"records-{by.kitchen.code}-{asked['first_day']}-to-{asked['last_day']}.zip")
