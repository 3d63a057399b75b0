"""How long a trace takes on three years of records: `python -m tests.benchmarks.trace --weeks 150`.

A kitchen in a database of its own, thrown away afterwards. Each week has 30 runs, each run two coolings, six lots and
eight weighings, each lot twenty order lines that it is sent for; one run a week is poured over into another. The rows
are made up and written in bulk, their hashes are not: a trace reads no hashes.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from statistics import median
from typing import Any

from tests.benchmarks.ledger import database_of_its_own

FIRST = date(2024, 1, 1)
RUNS, LOTS, LINES, WEIGHINGS, CAME = 30, 6, 20, 8, 12  # a week, a run, a lot, a run, a week
TIMES, AT_ONCE = 15, 2000
WANTED_S = 1.0
PADDING = "x" * 10_000  # figures and stages that a plan tells of each run


@dataclass(frozen=True, slots=True)
class Measured:
    what: str
    median_s: float
    worst_s: float
    queries: int
    knots: int

    def line(self) -> str:
        kept = "yes" if self.worst_s < WANTED_S else "NO"
        return f"| {self.what} | {self.median_s:.3f} | {self.worst_s:.3f} | {self.queries} | {self.knots} | {kept} |"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--weeks", type=int, default=150)
    weeks = asked.parse_args().weeks
    os.environ["DJANGO_SETTINGS_MODULE"] = "production.settings.test"
    import django

    django.setup()
    from django.db import connection

    with database_of_its_own():
        begun = time.perf_counter()
        by, counts = kitchen_of(weeks)
        built = time.perf_counter() - begun
        lines = [each.line() for each in measured(by)]
    print(f"{weeks} weeks, {counts}, written in {built:.0f} s; {connection.vendor}, {os.cpu_count()} cores\n")  # noqa: T201
    head = ["| trace of | median s | worst s | queries | knots | below 1 s |", "|---|---|---|---|---|---|"]
    print("\n".join([*head, *lines]))  # noqa: T201


def measured(by: Any) -> Iterator[Measured]:
    from production.models import IngredientLot, Lot, OrderLine, Outlet, RunRecord, Supplier

    dice = random.Random(4)
    starts: Sequence[tuple[str, Callable[[], str]]] = (
        ("a lot", lambda: f"lot/{_one(Lot, dice).code}"),
        ("a run", lambda: str(_one(RunRecord, dice).subject)),
        ("an ingredient lot", lambda: f"ingredient/{_one(IngredientLot, dice).code}"),
        ("an order line", lambda: _line(_one(OrderLine, dice))),
        ("a supplier, 30 days", lambda: f"supplier/{_one(Supplier, dice).code}"),
        ("an outlet, 30 days", lambda: f"outlet/{_one(Outlet, dice).code}"),
    )
    for what, start in starts:
        yield _timed(by, what, [start() for _ in range(TIMES)])


def _one(table: Any, dice: random.Random) -> Any:
    return table.objects.order_by("pk")[dice.randrange(table.objects.count())]


def _line(line: Any) -> str:
    return f"order/{line.week.starts_on}/{line.code}"


def _timed(by: Any, what: str, keys: Sequence[str]) -> Measured:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from production.models import RunRecord
    from production.selectors.trace import trace_of

    now = RunRecord.objects.order_by("-begun_at")[0].begun_at + timedelta(days=5)
    times, knots = [], []
    for key in keys:
        begun = time.perf_counter()
        report = trace_of(by=by, key=key, now=now)
        times.append(time.perf_counter() - begun)
        knots.append(len(report.graph.nodes))
    with CaptureQueriesContext(connection) as caught:
        trace_of(by=by, key=keys[0], now=now)
    return Measured(what, median(times), max(times), len(caught), max(knots))


# --- three years of records -------------------------------------------------------------------------------------------


def kitchen_of(weeks: int) -> tuple[Any, str]:
    """The kitchen's cook, and how much there is."""
    from django.contrib.auth.models import User

    from production.models import Entry, Lot, LotMove, Outlet
    from production.services.kitchens import kitchen_create, membership_set
    from production.services.week_import import week_import
    from tests.builders import a_kitchen, a_week

    kitchen = kitchen_create(kitchen=a_kitchen())
    by = membership_set(kitchen=kitchen, user=User.objects.create_user("manager"), role="manager", by=None)
    week_import(week=a_week(), by=by)
    Outlet.objects.bulk_create(
        Outlet(kitchen=kitchen, code=f"o{n}", name=f"Outlet {n}", kind="bar", contact=f"555 {n:04}", same_business=True)
        for n in range(40)
    )
    book = _Book(by)
    for n in range(weeks):
        _week(book, n)
    lots, moves, entries = Lot.objects.count(), LotMove.objects.count(), Entry.objects.count()
    return by, f"{lots} lots, {moves} moves, {entries} entries"


class _Book:
    """Numbers entries and remembers what each week needs."""

    def __init__(self, by: Any) -> None:
        from production.models import CoolingDevice, Ingredient, Outlet, Product, Store, Supplier
        from production.services.plans import plan_make, plan_store

        self.by, self.number = by, 0
        of = {"kitchen_id": by.kitchen_id}
        self.product = Product.objects.filter(code="poultry-5", **of)[0]
        self.store = Store.objects.filter(**of)[0]
        self.device = CoolingDevice.objects.filter(**of)[0]
        self.supplier = Supplier.objects.filter(**of)[0]
        self.ingredients = list(Ingredient.objects.filter(**of))
        self.outlets = list(Outlet.objects.filter(**of))
        week_id = by.kitchen.weeks.get().pk
        made = plan_make(kitchen=by.kitchen, week_id=week_id)
        self.sheet = self._sheet(plan_store(made=made, kitchen=by.kitchen, week_id=week_id, user_id=None))

    def _sheet(self, plan: Any) -> Any:
        from production.domain.plan import plan_from_json
        from production.domain.sheets import batch_sheets, content_to_json

        return content_to_json(batch_sheets(plan_from_json(plan.result))[0])

    def entry(self, kind: str, subject: str, content: dict[str, Any], at: datetime) -> Any:
        from production.models import Entry

        self.number += 1
        return Entry(
            kitchen_id=self.by.kitchen_id,
            number=self.number,
            kind=kind,
            subject=subject,
            content=content,
            happened_at=at,
            made_at=at,
            by_login="manager",
            by_name="manager",
            role="manager",
            key=f"k{self.number}",
            leaf_sha256="0" * 64,
        )


def _week(book: _Book, n: int) -> None:
    from production.models import Plan, PlanningWeek

    day = FIRST + timedelta(weeks=n)
    week = PlanningWeek.objects.create(
        kitchen_id=book.by.kitchen_id, starts_on=day, days=7, plan_from=_at(day) - timedelta(days=2)
    )
    told = [
        {"code": f"R{m:02}", "figures": PADDING, "batch": {"pours_into": "R02" if m == 1 else ""}} for m in range(RUNS)
    ]
    plan = Plan.objects.create(**_plan_fields(book, week, {"runs": told}))
    came = _came(book, day)
    runs = _runs(book, week, plan, day)
    _uses(book, runs, came)
    _lots(book, week, runs, day)


def _plan_fields(book: _Book, week: Any, result: dict[str, Any]) -> dict[str, Any]:
    from production.models import Plan

    given = {"kitchen": book.by.kitchen, "week": week, "number": 1, "result": result}
    for each in Plan._meta.concrete_fields:
        if each.name not in given and not each.null and not each.has_default() and not each.primary_key:
            kind = each.get_internal_type()
            if kind == "DateTimeField":
                given[each.name] = _at(week.starts_on)
            elif kind in ("CharField", "TextField"):
                given[each.name] = "0" * min(each.max_length or 64, 64)
            elif kind == "JSONField":
                given[each.name] = {}
            else:
                given[each.name] = 1
    return given


def _at(day: date, hours: float = 6) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(hours=hours)


def _came(book: _Book, day: date) -> list[Any]:
    from production.domain.records.lots import lot_code
    from production.models import Entry, IngredientLot, Receipt

    own, at = {"kitchen_id": book.by.kitchen_id}, _at(day)
    codes = [lot_code(made_on=day, number=n + 1) for n in range(CAME)]
    entries = Entry.objects.bulk_create([book.entry("receipt", f"receipt/R{code}", {}, at) for code in codes])
    kinds = [book.ingredients[n % len(book.ingredients)] for n in range(CAME)]
    receipts = Receipt.objects.bulk_create(
        Receipt(
            code=f"R{code}",
            entry=entry,
            supplier=book.supplier,
            ingredient=kind,
            received_at=at,
            packs=10,
            mass_kg=Decimal(500),
            came_as="chilled",
            temp="3",
            unit="C",
            accepted=True,
            in_limits=True,
            **own,
        )
        for code, entry, kind in zip(codes, entries, kinds, strict=True)
    )
    return list(
        IngredientLot.objects.bulk_create(
            IngredientLot(
                code=f"I{code}",
                receipt=receipt,
                ingredient=kind,
                received_on=day,
                mass_kg=Decimal(500),
                left_kg=Decimal(0),
                **own,
            )
            for code, receipt, kind in zip(codes, receipts, kinds, strict=True)
        )
    )


def _runs(book: _Book, week: Any, plan: Any, day: date) -> list[Any]:
    from production.models import Entry, RunRecord

    runs = RunRecord.objects.bulk_create(
        RunRecord(
            kitchen_id=book.by.kitchen_id,
            week=week,
            plan=plan,
            code=f"R{n:02}",
            subject=f"run/{day}/R{n:02}",
            sheet=book.sheet,
            state="finished",
            begun_at=_at(day, 24 * (n % 6) + 8),
            ended_at=_at(day, 24 * (n % 6) + 20),
        )
        for n in range(RUNS)
    )
    Entry.objects.bulk_create([book.entry("poured", runs[1].subject, {"mass": "40 kg"}, runs[1].begun_at)])
    return list(runs)


def _uses(book: _Book, runs: Sequence[Any], came: Sequence[Any]) -> None:
    """Six of eight weighings name their lot."""
    from production.models import Entry, IngredientUse

    weighed = [(run, n, came[(n + place) % CAME]) for place, run in enumerate(runs) for n in range(WEIGHINGS)]
    entries = Entry.objects.bulk_create(
        book.entry(
            "charge_weighed",
            run.subject,
            {"step": f"charge.{n + 1}", "mass": "12 kg"} | ({"lot": lot.code} if n < 6 else {}),
            run.begun_at,
        )
        for run, n, lot in weighed
    )
    IngredientUse.objects.bulk_create(
        IngredientUse(lot=lot, entry=entry, run=run, mass_kg=Decimal(12))
        for entry, (run, n, lot) in zip(entries, weighed, strict=True)
        if n < 6
    )


def _lots(book: _Book, week: Any, runs: Sequence[Any], day: date) -> None:
    from production.domain.records.lots import lot_code
    from production.models import CoolingRecord, Lot, OrderLine

    own = {"kitchen_id": book.by.kitchen_id}
    coolings = CoolingRecord.objects.bulk_create(
        CoolingRecord(
            week=week,
            run=run,
            draw=draw,
            device=book.device,
            subject=f"cooling/{day}/{run.code}/{draw}/sink/1.1",
            rule="FDA_A_C",
            sheet=book.sheet,
            opened_at=run.ended_at,
            closed_at=run.ended_at + timedelta(hours=6),
            verdict="met",
            **own,
        )
        for run in runs
        for draw in ("first", "reduction")
    )
    made = Lot.objects.bulk_create(
        Lot(
            code=lot_code(made_on=day, number=n + 1),
            product=book.product,
            run=runs[n // LOTS],
            containers=2 * LINES + 5,
            left=5,
            made_on=day,
            packed_at=runs[n // LOTS].ended_at,
            use_by=day + timedelta(days=7),
            store=book.store,
            status="free",
            **own,
        )
        for n in range(RUNS * LOTS)
    )
    Lot.coolings.through.objects.bulk_create(
        Lot.coolings.through(lot=lot, coolingrecord=coolings[2 * (n // LOTS) + n % 2]) for n, lot in enumerate(made)
    )
    lines = OrderLine.objects.bulk_create(
        [
            OrderLine(
                week=week,
                code=f"L{n}",
                outlet=book.outlets[n % len(book.outlets)],
                product=book.product,
                containers=2,
                dispatch_at=_at(day, 150),
                weight=1.0,
                position=n,
            )
            for n in range(RUNS * LOTS * LINES)
        ],
        batch_size=AT_ONCE,
    )
    _moves(book, made, lines)


def _moves(book: _Book, made: Sequence[Any], lines: Sequence[Any]) -> None:
    from production.models import Entry, LotMove

    packed = Entry.objects.bulk_create(book.entry("lot_made", f"lot/{lot.code}", {}, lot.packed_at) for lot in made)
    sent = Entry.objects.bulk_create(
        [
            book.entry("lot_dispatched", f"lot/{made[n // LINES].code}", {"containers": 2}, line.dispatch_at)
            for n, line in enumerate(lines)
        ],
        batch_size=AT_ONCE,
    )
    moves = [
        LotMove(lot=lot, entry=entry, kind="made", containers=lot.containers)
        for lot, entry in zip(made, packed, strict=True)
    ]
    moves += [
        LotMove(
            lot=made[n // LINES],
            entry=entry,
            kind="dispatched",
            containers=-2,
            order_line=line,
            outlet_id=line.outlet_id,
        )
        for n, (line, entry) in enumerate(zip(lines, sent, strict=True))
    ]
    LotMove.objects.bulk_create(moves, batch_size=AT_ONCE)


if __name__ == "__main__":
    main()
