"""Traces through the records: from everything, in both directions, in as many queries for much as for little."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.http import Http404
from django.test.utils import CaptureQueriesContext

from production.domain.records.trace import Kind
from production.domain.records.trace_report import TraceReport, gaps
from production.models import CoolingRecord, LotMove, OrderLine, PlanningWeek, RunRecord
from production.selectors.trace import trace_of, trace_search
from production.services.bones import bones_save, bones_use
from production.services.dispatch import lot_return
from production.services.lot_decisions import lot_count, lot_discard
from production.services.records import Draft, entries_append
from tests.builders import at
from tests.conftest import Cast
from tests.lots import PACKED, a_cooling, a_lot
from tests.services.trace_kit import LEAVES, Traced, a_thread, order_of, received, sent, weighed

NOW = at("2027-02-04 10:00")
ALL_KINDS = [Kind.SUPPLIER, Kind.INGREDIENT_LOT, Kind.RUN, Kind.COOLING, Kind.LOT, Kind.OUTLET]


@pytest.fixture
def traced(cast: Cast, planning_week: PlanningWeek) -> Traced:
    return a_thread(cast, planning_week)


def codes(report: TraceReport, kind: Kind) -> set[str]:
    return {node.code for node in report.graph.of_kind(kind)}


def starts(traced: Traced) -> dict[str, str]:
    """A key for each kind of thing that can be traced."""
    return {
        "lot": f"lot/{traced.lot.code}",
        "run": traced.run.subject,
        "ingredient lot": f"ingredient/{traced.came.code}",
        "receipt": f"ingredient/{traced.came.receipt.code}",
        "supplier": f"supplier/{traced.came.receipt.supplier.code}",
        "outlet": f"outlet/{traced.line.outlet.code}",
        "order line": f"order/{traced.line.week.starts_on}/L1",
    }


def test_the_whole_thread_is_found_from_everything_on_it(cast: Cast, traced: Traced) -> None:
    for what, key in starts(traced).items():
        report = trace_of(by=cast.inspector, key=key, now=NOW)
        assert {node.kind for node in report.graph.nodes.values()} >= set(ALL_KINDS), what
        assert codes(report, Kind.LOT) == {traced.lot.code}
        assert codes(report, Kind.INGREDIENT_LOT) == {traced.came.code}
        assert report.outlets == ((traced.line.outlet.name, "555 0101, Ms Ames"),)
        assert [(each.containers, each.back) for each in report.sent] == [(6, 0)]


def test_amounts_stand_on_the_way(cast: Cast, traced: Traced) -> None:
    report = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    amounts = {(edge.source.split("/")[0], edge.target.split("/")[0]): edge.amount for edge in report.graph.edges}
    assert amounts["supplier", "ingredient"] == Decimal(40)
    assert amounts["ingredient", "run"] == Decimal(18)
    assert amounts["cooling", "lot"] == Decimal(10)
    assert amounts["lot", "outlet"] == Decimal(6)


def test_what_was_made_is_sent_in_the_store_thrown_away_or_unexplained(cast: Cast, traced: Traced) -> None:
    code = traced.lot.code
    lot_return(by=cast.cook, code=code, outlet="bistro", containers=2, reason="Came late", key="back", now=LEAVES)
    lot_discard(by=cast.cook, code=code, seen_left=4, containers=1, reason="Leaking", key="throw", now=LEAVES)
    lot_count(by=cast.cook, code=code, seen_left=3, found=2, reason="One too few", key="count", now=LEAVES)
    report = trace_of(by=cast.cook, key=f"lot/{code}", now=NOW)
    (lot,) = report.packed
    balance = lot.balance
    assert [balance.made, balance.shipped, balance.stock, balance.discarded] == [10, 4, 2, 3]
    assert [balance.unexplained, lot.counted] == [1, -1]
    assert report.found_percent == 90
    assert any("1 are missing" in each for each in gaps(report=report))


def test_a_move_that_vanished_from_the_rows_is_unexplained(cast: Cast, traced: Traced) -> None:
    LotMove.objects.filter(lot=traced.lot, kind="dispatched").delete()
    report = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    assert report.packed[0].balance.unexplained == 6


def test_other_food_of_the_same_kitchen_is_not_in_the_thread(cast: Cast, traced: Traced) -> None:
    other = received(cast, key="other")
    fish = a_lot(cast, traced.plan, containers=3, key="sister")
    report = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    assert other.code not in codes(report, Kind.INGREDIENT_LOT)
    assert fish.code not in codes(report, Kind.LOT)
    assert fish.code in codes(trace_of(by=cast.cook, key=traced.run.subject, now=NOW), Kind.LOT)


def test_an_ingredient_lot_that_was_not_used_leads_back_to_its_supplier_only(cast: Cast, traced: Traced) -> None:
    other = received(cast, key="other")
    report = trace_of(by=cast.cook, key=f"ingredient/{other.code}", now=NOW)
    assert {node.kind for node in report.graph.nodes.values()} == {Kind.SUPPLIER, Kind.INGREDIENT_LOT}
    assert [each.balance.stock for each in report.came] == [Decimal(40)]


def test_weighings_that_name_no_lot_are_told(cast: Cast, traced: Traced) -> None:
    name = traced.run.sheet["charge"][-1]["name"]
    weighed(cast, traced.run, order=order_of(traced.run, name), mass="1 kg", key="unnamed")
    report = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    assert report.cooked[0].unnamed == (name,)
    assert report.graph.of_kind(Kind.UNNAMED)
    assert any("1 of 2 weighings name no lot" in each for each in gaps(report=report))


def test_a_correction_that_names_no_lot_keeps_the_one_before(cast: Cast, traced: Traced) -> None:
    first = traced.run.kitchen.entries.get(kind="charge_weighed")
    draft = Draft(
        kind="charge_weighed",
        subject=traced.run.subject,
        content={"step": first.content["step"], "mass": "19 kg"},
        happened_at=first.happened_at,
        key="again",
        corrects=first,
        reason="Scale was not at nought",
    )
    entries_append(by=cast.cook, drafts=[draft], now=NOW)
    report = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    assert (report.cooked[0].weighings, report.cooked[0].unnamed) == (1, ())


def test_runs_that_may_have_used_a_lot_without_naming_it_are_told(cast: Cast, traced: Traced) -> None:
    other = received(cast, key="other")
    assert trace_of(by=cast.cook, key=f"ingredient/{other.code}", now=NOW).possible == ()
    run = traced.run
    again = RunRecord.objects.create(
        kitchen=run.kitchen,
        week=run.week,
        plan=run.plan,
        code="R99",
        subject=f"run/{run.week.starts_on}/R99",
        sheet=run.sheet,
        begun_at=run.begun_at,
    )
    weighed(cast, again, order=order_of(run, other.ingredient.name), mass="10 kg")
    report = trace_of(by=cast.cook, key=f"ingredient/{other.code}", now=NOW)
    assert report.possible == (f"R99 (week of {run.week.starts_on})",)
    assert any("may hold it as well" in each for each in gaps(report=report))


def pooled(cast: Cast, traced: Traced) -> tuple[RunRecord, CoolingRecord, CoolingRecord]:
    """A second run whose second draw was poured into the reduction of the traced one."""
    run = traced.run
    guest = RunRecord.objects.create(
        kitchen=run.kitchen,
        week=run.week,
        plan=run.plan,
        code="R98",
        subject=f"run/{run.week.starts_on}/R98",
        sheet=run.sheet,
        begun_at=run.begun_at,
    )
    first, reduction = CoolingRecord.objects.get(run=run, draw="first"), a_cooling(run, draw="reduction")
    plan = traced.plan
    plan.result["runs"].append({"code": "R98", "batch": {"pours_into": run.code}})
    plan.save()
    draft = Draft(kind="poured", subject=guest.subject, content={"mass": "12 kg"}, happened_at=PACKED, key="pour")
    entries_append(by=cast.cook, drafts=[draft], now=PACKED)
    return guest, first, reduction


def test_a_second_draw_that_was_poured_over_is_in_the_reduction_and_not_in_the_broth(
    cast: Cast, traced: Traced
) -> None:
    guest, first, reduction = pooled(cast, traced)
    after = trace_of(by=cast.cook, key=guest.subject, now=NOW)
    assert reduction.subject in after.graph.nodes
    assert first.subject not in after.graph.nodes
    host = trace_of(by=cast.cook, key=traced.run.subject, now=NOW)
    assert guest.subject not in host.graph.nodes  # a sister of the run, not before or after it
    broth = trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW)
    assert guest.subject not in broth.graph.nodes


def test_a_pour_that_was_taken_back_is_no_pour(cast: Cast, traced: Traced) -> None:
    guest, _, reduction = pooled(cast, traced)
    entry = guest.kitchen.entries.get(key="pour")
    draft = Draft(
        kind="withdrawn",
        subject=guest.subject,
        content={},
        happened_at=NOW,
        key="undo",
        corrects=entry,
        reason="Not so",
    )
    entries_append(by=cast.cook, drafts=[draft], now=NOW)
    assert reduction.subject not in trace_of(by=cast.cook, key=guest.subject, now=NOW).graph.nodes


def test_saved_bones_lead_into_the_run_that_took_them(cast: Cast, traced: Traced) -> None:
    bones = bones_save(
        by=cast.cook,
        ingredient="frames",
        mass_kg=Decimal(5),
        saved_on=date(2027, 2, 1),
        store="walk-in",
        key="save",
        now=at("2027-02-01 12:00"),
    )
    bones_use(
        by=cast.cook,
        code=bones.code,
        mass_kg=Decimal(3),
        run=traced.run.subject,
        key="use",
        now=at("2027-02-02 08:00"),
    )
    assert codes(trace_of(by=cast.cook, key=f"lot/{traced.lot.code}", now=NOW), Kind.BONES) == {bones.code}
    report = trace_of(by=cast.cook, key=f"bones/{bones.code}", now=NOW)
    assert codes(report, Kind.LOT) == {traced.lot.code}
    assert Decimal(3) in {edge.amount for edge in report.graph.edges}


def test_an_outlet_is_traced_within_the_days_asked_for(cast: Cast, traced: Traced) -> None:
    key = f"outlet/{traced.line.outlet.code}"
    long_ago = trace_of(by=cast.cook, key=key, now=NOW, since=date(2026, 1, 1), until=date(2026, 2, 1))
    assert set(long_ago.graph.nodes) == {key}
    assert codes(trace_of(by=cast.cook, key=key, now=NOW, since=date(2027, 2, 3)), Kind.LOT) == {traced.lot.code}


def test_an_order_line_holds_only_what_was_sent_for_it(cast: Cast, traced: Traced) -> None:
    other = OrderLine.objects.get(pk=traced.line.pk)
    other.pk, other.code, other.containers = None, "L9", 3
    other.save()
    sent(cast, other, traced.lot, 3, key="more")
    report = trace_of(by=cast.cook, key=f"order/{other.week.starts_on}/L9", now=NOW)
    assert [each.containers for each in report.sent] == [3]
    assert report.packed[0].balance.shipped == 9  # of the lot as a whole


def test_a_code_is_found_as_typed_and_as_scanned(cast: Cast, traced: Traced) -> None:
    lot = traced.lot.code
    for typed in (lot, f" {lot.lower()} ", f"(01)07612345678900(10){lot}(17)270207", f"]d2010761234567890010{lot}"):
        found = trace_search(by=cast.cook, text=typed)
        assert (found[0].node.key, found[0].is_exact) == (f"lot/{lot}", True)


def test_a_search_finds_suppliers_outlets_and_their_lots(cast: Cast, traced: Traced) -> None:
    assert trace_search(by=cast.cook, text="cb-118")[0].node.code == traced.came.code
    assert trace_search(by=cast.cook, text=traced.line.outlet.name)[0].node.kind is Kind.OUTLET
    assert trace_search(by=cast.cook, text=traced.run.code)[0].node.kind is Kind.RUN
    assert trace_search(by=cast.cook, text="   ") == ()


def test_another_kitchen_finds_nothing_and_nobody_finds_what_does_not_exist(cast: Cast, traced: Traced) -> None:
    for key in ("lot/NONE", "run/2027-02-01/R77", "shelf/1", "lot", "order/never/L1", "outlet/none"):
        with pytest.raises(Http404):
            trace_of(by=cast.cook, key=key, now=NOW)
    for key in starts(traced).values():
        if not key.startswith(("supplier/", "outlet/", "order/")):  # those have codes that both kitchens use
            with pytest.raises(Http404):
                trace_of(by=cast.outsider, key=key, now=NOW)
    assert trace_search(by=cast.outsider, text=traced.lot.code) == ()


def queries_for(cast: Cast, key: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        trace_of(by=cast.cook, key=key, now=NOW)
    return len(caught)


def test_a_long_thread_takes_no_more_queries_than_a_short_one(cast: Cast, traced: Traced) -> None:
    before = {what: queries_for(cast, key) for what, key in starts(traced).items()}
    for n in range(4):
        lot = a_lot(cast, traced.plan, containers=8, free=True, key=f"lot-{n}", group=20 + n)
        line = OrderLine.objects.get(pk=traced.line.pk)
        line.pk, line.code, line.containers = None, f"L{20 + n}", 8
        line.save()
        sent(cast, line, lot, 5, key=f"s{n}", when=LEAVES + timedelta(minutes=n))
        came = received(cast, key=f"came-{n}")
        weighed(
            cast, traced.run, order=order_of(traced.run, came.ingredient.name), mass="2 kg", lot=came.code, key=f"w{n}"
        )
    after = {what: queries_for(cast, key) for what, key in starts(traced).items()}
    assert after == before
    assert max(after.values()) <= 24
