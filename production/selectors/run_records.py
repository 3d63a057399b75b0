"""Runs that are cooked: the board of the floor, and one run as it goes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import cast

from django.db.models import Count, Q, QuerySet
from django.http import Http404

from production.domain.plan import Ask, PlannedRun
from production.domain.plan import Plan as PlanContent
from production.domain.records.course import Running, asks_suggested, course_of
from production.domain.records.course_content import Course, Noted, State
from production.domain.sheets import BatchSheet, batch_sheets, content_from_json
from production.models import Entry, Membership, Plan, PlanningWeek, RunRecord
from production.selectors.access import Action, may, require
from production.selectors.plans import plan_content_kept
from production.selectors.weeks import week_of

Status = Plan.Status
PLAN_UNREAD = ("plan__input_week", "plan__result")  # large; the content is asked for by plan_content_kept


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardRun:
    """One run on the board."""

    code: str
    subject: str
    formula: str
    pot: str
    state: str
    start_at: datetime  # planned; of a run that has begun, when that was
    end_at: datetime  # planned, or expected, or when it ended
    course: Course | None  # of runs under way
    cooling: int  # groups of it that cool


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorBoard:
    """The runs of a week: to begin, under way, over."""

    week: date
    plan_number: int | None  # none: nothing is published
    to_begin: tuple[BoardRun, ...]
    under_way: tuple[BoardRun, ...]
    over: tuple[BoardRun, ...]
    cooling: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveRun:
    """One run with everything that its page shows."""

    subject: str
    sheet: BatchSheet
    course: Course
    plan_number: int
    cooling: int
    asks: tuple[Ask, ...]  # what a manager may tell the planner; nothing is told by itself
    may_record: bool
    may_replan: bool


def run_subject(*, starts_on: date, code: str) -> str:
    """What entries about a run name."""
    return f"run/{starts_on.isoformat()}/{code}"


def run_records_of(*, by: Membership) -> QuerySet[RunRecord]:
    """The kitchen's runs that have begun, with how many groups of each still cool."""
    require(by, Action.SEE_RECORDS)
    cooling = Count("coolings", filter=Q(coolings__closed_at__isnull=True))
    return RunRecord.objects.filter(kitchen_id=by.kitchen_id).select_related("week").annotate(cooling=cooling)


def floor_board(*, by: Membership, week: PlanningWeek, now: datetime) -> FloorBoard:
    """The runs of a week as the floor sees them. What has begun is shown as begun, whatever is planned since."""
    records = list(run_records_of(by=by).filter(week=week))
    published, contents = _plans_of(by, week, {record.plan_id for record in records})
    notes = _notes_of(by, [record.subject for record in records if record.state == RunRecord.State.UNDER_WAY])
    rows = [_board_run(record, contents[record.plan_id], notes.get(record.subject, ()), now) for record in records]
    begun = {record.code for record in records}
    return FloorBoard(
        week=week.starts_on,
        plan_number=published.number if published is not None else None,
        to_begin=_to_begin(week, contents[published.pk], begun) if published is not None else (),
        under_way=tuple(row for row in rows if row.state == RunRecord.State.UNDER_WAY),
        over=tuple(row for row in rows if row.state != RunRecord.State.UNDER_WAY),
        cooling=sum(row.cooling for row in rows),
    )


def _plans_of(by: Membership, week: PlanningWeek, begun_with: set[int]) -> tuple[Plan | None, dict[int, PlanContent]]:
    """The published plan, and the content of every plan that runs were or may be begun with; each read once."""
    wanted = Q(pk__in=begun_with) | Q(week=week, status=Status.PUBLISHED)
    plans = list(Plan.objects.filter(wanted, kitchen_id=by.kitchen_id).defer("input_week", "result"))
    published = next((plan for plan in plans if plan.status == Status.PUBLISHED), None)
    return published, {plan.pk: plan_content_kept(plan=plan) for plan in plans}


def _board_run(record: RunRecord, content: PlanContent, notes: tuple[Noted, ...], now: datetime) -> BoardRun:
    sheet = sheet_of(record)
    course = None
    if record.state == RunRecord.State.UNDER_WAY:
        course = course_of(Running(content, sheet, "under_way", notes), now=now)
    return BoardRun(
        code=record.code,
        subject=record.subject,
        formula=sheet.formula,
        pot=sheet.fill.pot,
        state=record.state,
        start_at=record.begun_at,
        end_at=record.ended_at or (course.lateness.end_at if course is not None else sheet.end_at),
        course=course,
        cooling=record.cooling,  # type: ignore[attr-defined]  # annotated
    )


def _to_begin(week: PlanningWeek, content: PlanContent, begun: set[str]) -> tuple[BoardRun, ...]:
    waiting = [run for run in content.runs if run.code not in begun]
    return tuple(_waiting(week, content, run) for run in sorted(waiting, key=lambda run: run.start_at))


def _waiting(week: PlanningWeek, content: PlanContent, run: PlannedRun) -> BoardRun:
    return BoardRun(
        code=run.code,
        subject=run_subject(starts_on=week.starts_on, code=run.code),
        formula=content.week.get("formulas", run.formula).name,
        pot=content.week.get("pots", run.pot).name,
        state="not_begun",
        start_at=run.start_at,
        end_at=run.end_at,
        course=None,
        cooling=0,
    )


def run_live(*, by: Membership, starts_on: date, code: str, now: datetime) -> LiveRun:
    """One run as it goes; a run that has not begun is shown by the published plan."""
    require(by, Action.SEE_RECORDS)
    week = week_of(by=by, starts_on=starts_on)
    record = run_records_of(by=by).filter(week=week, code=code).select_related("plan").defer(*PLAN_UNREAD).first()
    running, number = (
        (running_of(record=record), record.plan.number) if record is not None else _not_begun(by, week, code)
    )
    course = course_of(running, now=now)
    return LiveRun(
        subject=run_subject(starts_on=starts_on, code=code),
        sheet=running.sheet,
        course=course,
        plan_number=number,
        cooling=record.cooling if record is not None else 0,  # type: ignore[attr-defined]  # annotated
        asks=asks_suggested(running, course) if record is not None else (),
        may_record=may(by, Action.RECORD),
        may_replan=may(by, Action.MAKE_PLAN),
    )


def asks_from_floor(*, by: Membership, week: PlanningWeek, code: str, now: datetime) -> tuple[Ask, ...]:
    """What the floor's records of a run would tell the planner; nothing of a run that has not begun."""
    record = run_records_of(by=by).filter(week=week, code=code).select_related("plan").defer(*PLAN_UNREAD).first()
    if record is None:
        return ()
    running = running_of(record=record)
    return asks_suggested(running, course_of(running, now=now))


def _not_begun(by: Membership, week: PlanningWeek, code: str) -> tuple[Running, int]:
    published = Plan.objects.filter(week=week, kitchen_id=by.kitchen_id, status=Status.PUBLISHED)
    plan = published.defer("input_week", "result").first()
    content = plan_content_kept(plan=plan) if plan is not None else None
    if plan is None or content is None or all(run.code != code for run in content.runs):
        raise Http404("The published plan has no such run.")
    return Running(content, planned_sheet(content=content, code=code), "not_begun", ()), plan.number


def run_record_of(*, by: Membership, week: PlanningWeek, code: str) -> RunRecord:
    """A run of the week that has begun."""
    record = run_records_of(by=by).filter(week=week, code=code).select_related("plan").defer(*PLAN_UNREAD).first()
    if record is None:
        raise Http404("No such run has begun.")
    return record


def run_in_pot(*, kitchen_id: int, pot: str) -> RunRecord | None:
    """The run that a pot still holds: begun, neither closed nor washed out. Its reduction may go on elsewhere."""
    washed = Entry.objects.filter(kitchen_id=kitchen_id, kind="washed", content__step="wash", corrections=None)
    rows = RunRecord.objects.filter(kitchen_id=kitchen_id, pot__code=pot, state=RunRecord.State.UNDER_WAY)
    return rows.exclude(subject__in=washed.values("subject")).first()


def planned_sheet(*, content: PlanContent, code: str) -> BatchSheet:
    """The batch sheet of a planned run."""
    return next(sheet for sheet in batch_sheets(content) if sheet.run == code)


def running_of(*, record: RunRecord) -> Running:
    """A run that has begun, with its frozen sheet, the plan it was made from, and its entries."""
    entries = Entry.objects.filter(kitchen_id=record.kitchen_id, subject=record.subject).select_related("corrects")
    notes = tuple(noted_of(entry) for entry in entries)
    return Running(plan_content_kept(plan=record.plan), sheet_of(record), cast(State, record.state), notes)


def sheet_of(record: RunRecord) -> BatchSheet:
    """The batch sheet as it was when the run was begun."""
    return cast(BatchSheet, content_from_json(record.sheet))


def _notes_of(by: Membership, subjects: list[str]) -> dict[str, tuple[Noted, ...]]:
    found: dict[str, list[Noted]] = {}
    entries = Entry.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects).select_related("corrects")
    for entry in entries:
        found.setdefault(entry.subject, []).append(noted_of(entry))
    return {subject: tuple(notes) for subject, notes in found.items()}


def noted_of(entry: Entry) -> Noted:
    """An entry as the course reads it."""
    return Noted(
        number=entry.number,
        key=entry.key,
        kind=entry.kind,
        content=entry.content,
        happened_at=entry.happened_at.astimezone(UTC),
        made_at=entry.made_at,
        by=entry.by_name,
        role=entry.role,
        corrects=entry.corrects.key if entry.corrects is not None else "",
        reason=entry.reason,
    )
