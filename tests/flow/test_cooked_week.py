"""The demo week cooked from its published plan to its last dispatch, through the same services as any kitchen."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pdfplumber
import pytest
from django.contrib.auth.models import User
from django.db import transaction

from production.documents.render import render_document
from production.domain.plan import Plan as PlanContent
from production.domain.week_file import parse_week
from production.models import CoolingRecord, Deviation, Entry, Kitchen, Lot, Membership, Plan, Reading, RunRecord
from production.selectors.batch_record import completed_batch_record
from production.selectors.cooling_record import completed_log
from production.selectors.plans import plan_content
from production.selectors.record_check import book_check
from production.selectors.run_records import floor_board
from production.services.demo_cooking import week_cook
from production.services.demo_week import days_to, running_week_cook, week_moved
from production.services.kitchens import kitchen_create, membership_set
from production.services.label_sheets import sheet_of
from production.services.plans import plan_make, plan_store
from production.services.publishing import plan_publish
from production.services.week_import import week_import

DEMO = parse_week((Path(__file__).resolve().parents[2] / "fixtures" / "demo_week.json").read_bytes())
LAST = max(line.dispatch_at for line in DEMO.order_lines)


@dataclass(frozen=True, slots=True)
class Cooked:
    """The kitchen after its week."""

    kitchen: Kitchen
    plan: Plan
    content: PlanContent
    inspector: Membership


@pytest.fixture(scope="module")
def cooked(django_db_setup: None, django_db_blocker: pytest.FixtureRequest) -> Iterator[Cooked]:
    """Cooked once for all tests of this file, and taken back as a whole."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]
        kitchen = kitchen_create(kitchen=DEMO.kitchen)
        manager, cook, inspector = (member(kitchen, role) for role in ("manager", "cook", "inspector"))
        week = week_import(week=DEMO, by=manager)
        made = plan_make(kitchen=kitchen, week_id=week.pk, at=DEMO.plan_from)
        plan = plan_store(made=made, kitchen=kitchen, week_id=week.pk, user_id=manager.user_id)
        plan = plan_publish(by=manager, plan=plan, seen_number=1, confirm_stale=True)
        week_cook(plan=plan, cook=cook, manager=manager, until=LAST + timedelta(days=2))
        yield Cooked(kitchen, plan, plan_content(plan=plan), inspector)
        transaction.set_rollback(True)


def member(kitchen: Kitchen, role: str) -> Membership:
    return membership_set(kitchen=kitchen, user=User.objects.create_user(role), role=role, by=None)


def test_every_planned_run_is_cooked_to_its_end(cooked: Cooked) -> None:
    states = dict(RunRecord.objects.values_list("code", "state"))
    assert states == {run.code: "finished" for run in cooked.content.runs}
    assert all(run.ended_at is not None for run in RunRecord.objects.all())


def test_every_draw_of_the_plan_has_its_logs_and_each_is_closed_with_a_verdict(cooked: Cooked) -> None:
    planned = Counter(
        (run.code, draw.name) for run in cooked.content.runs for draw in run.draws for _ in draw.cooling.parts
    )
    assert Counter(CoolingRecord.objects.values_list("run__code", "draw")) == planned
    verdicts = Counter(CoolingRecord.objects.values_list("verdict", flat=True))
    assert verdicts["breached"] == 1
    assert verdicts["not_shown"] >= 1
    assert verdicts["met"] > 0.75 * sum(planned.values())


def test_the_book_is_written_in_the_order_of_time_and_nothing_in_it_was_changed(cooked: Cooked) -> None:
    made = list(Entry.objects.order_by("number").values_list("made_at", flat=True))
    assert len(made) > 400
    early = [at for before, at in pairwise(made) if before - at > timedelta(minutes=20)]
    assert early == []
    check = book_check(kitchen=cooked.kitchen)
    assert (check.entries, list(check.findings)) == (len(made), [])


def test_what_went_wrong_is_in_the_book_and_what_was_put_right_too(cooked: Cooked) -> None:
    weighed = Entry.objects.get(kind="charge_weighed", corrects__isnull=False)
    assert weighed.reason == "forgot the tare of the tub"
    assert Reading.objects.filter(excluded=True, question="unit-too-hot").count() == 1
    steps = Counter(Entry.objects.filter(kind="boil_reached").values_list("subject", "content__step"))
    assert sorted(steps.values())[-2:] == [1, 2]
    states = dict(Deviation.objects.values_list("cooling__verdict", "state"))
    assert states == {"breached": "closed", "not_shown": "open"}


def test_containers_that_were_shown_to_be_safe_are_free_and_the_others_are_held(cooked: Cooked) -> None:
    made_here = Lot.objects.filter(run__isnull=False)
    assert made_here.exists()
    for lot in made_here.prefetch_related("coolings"):
        is_met = all(cooling.verdict == "met" for cooling in lot.coolings.all())
        assert (lot.status == "free") == is_met, lot
    breached = CoolingRecord.objects.get(verdict="breached")
    assert not breached.lots.exists()
    made: dict[tuple[str, str], int] = {}
    for code, product, containers in made_here.values_list("run__code", "product__code", "containers"):
        made[code, product] = made.get((code, product), 0) + containers
    planned = Counter[tuple[str, str]]()
    for run in cooked.content.runs:
        for portion in (*run.batch.first, *run.batch.reduction):
            planned[run.code, portion.product] += portion.containers
    lost = {(code, product) for code, product in planned if (code, product) not in made}
    assert {code for code, _ in lost} <= {breached.run.code}
    assert all(made[key] <= planned[key] for key in made)


def test_what_leaves_is_never_more_than_was_ordered_nor_past_its_day(cooked: Cooked) -> None:
    sent = Counter[str]()
    for entry in Entry.objects.filter(kind="lot_dispatched"):
        sent[entry.content["order_line"]] += entry.content["containers"]
        lot = Lot.objects.get(code=entry.subject.removeprefix("lot/"))
        assert entry.happened_at.astimezone(ZoneInfo(DEMO.kitchen.time_zone)).date() <= lot.use_by
    ordered = {f"{DEMO.starts_on}/{line.code}": line.containers for line in DEMO.order_lines}
    assert all(sent[line] <= ordered[line] for line in sent)
    assert sum(sent.values()) > 0.8 * sum(ordered.values())


def test_records_logs_and_labels_of_the_week_can_be_printed(cooked: Cooked) -> None:
    breached = CoolingRecord.objects.select_related("run").get(verdict="breached")
    record = completed_batch_record(
        by=cooked.inspector, starts_on=DEMO.starts_on, code=breached.run.code, now=LAST + timedelta(days=2)
    )
    log = completed_log(by=cooked.inspector, subject=breached.subject)
    lot = Lot.objects.filter(run__isnull=False, status="free").select_related("run").first()
    assert lot is not None
    for content, said in (
        (record, ("limit missed", "missed a limit", "discarded;")),
        (log, ("Limit missed", "Ice added: 15 kg")),
        (sheet_of(lot, size="a4-14", first_place=1, copies=3), (lot.code,)),
    ):
        with pdfplumber.open(io.BytesIO(render_document(content, paper="a4").pdf)) as pdf:
            words = " ".join(" ".join((page.extract_text() or "") for page in pdf.pages).split())
        for each in said:
            assert each in words, each


def test_a_week_that_is_moved_keeps_its_clock_times_over_a_change_of_the_clocks() -> None:
    moved = week_moved(DEMO, days=42)  # after the clocks of Denver were put forward
    zone = ZoneInfo(DEMO.kitchen.time_zone)
    assert moved.starts_on == date(2027, 3, 15)
    for before, after in zip(DEMO.shifts, moved.shifts, strict=True):
        assert after.start.astimezone(zone).time() == before.start.astimezone(zone).time()
        assert after.start.astimezone(zone).date() - before.start.astimezone(zone).date() == timedelta(days=42)
    assert moved.formulas == DEMO.formulas
    assert days_to(DEMO, now=datetime(2026, 12, 9, 3, 0, tzinfo=UTC)) == -56  # a Tuesday evening in Denver


def test_the_running_week_is_cooked_up_to_now_and_only_once(db: None) -> None:
    now = datetime(2027, 2, 2, 17, 30, tzinfo=UTC)  # Tuesday, half past ten in Denver
    kitchen = kitchen_create(kitchen=DEMO.kitchen)
    manager, cook = (member(kitchen, role) for role in ("manager", "cook"))
    row = running_week_cook(week=DEMO, manager=manager, cook=cook, now=now, seconds=0.0)
    assert row is not None
    board = floor_board(by=cook, week=row, now=now)
    assert board.under_way
    assert board.over
    assert board.to_begin
    assert Entry.objects.filter(made_at__gt=now + timedelta(minutes=20)).count() == 0
    assert running_week_cook(week=DEMO, manager=manager, cook=cook, now=now, seconds=0.0) is None
