"""A whole published week cooked by a demo kitchen through the same services as any other, up to a moment.

What goes wrong is chosen beforehand, so that a demo and its tests always have it: a weighing corrected, a step that two
people record, a reading in the wrong unit, ice that was forgotten, a log that nobody kept.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from production.domain.batches import Portion
from production.domain.limits import rule, to_celsius
from production.domain.plan import Plan as PlanContent
from production.domain.plan import PlannedDraw, PlannedRun
from production.domain.records.course import planned_steps
from production.domain.records.course_basis import BEGIN, BOIL, FINISH, FIRST, REDUCE
from production.domain.records.course_content import Step
from production.domain.sheets import CoolingLog, content_from_json
from production.models import CoolingRecord, Deviation, Membership, Plan, Store
from production.selectors.plans import plan_content
from production.selectors.run_records import planned_sheet, run_in_pot, run_subject
from production.selectors.stock import leaving_on
from production.services.demo_hands import CoolingTruth, DemoKitchen, Hand, typed_by_hand
from production.services.deviations import deviation_act, deviation_close
from production.services.dispatch import Picked, dispatch_confirm
from production.services.lot_decisions import lot_release
from production.services.lots import lot_make
from production.services.stock_in import stock_take_in
from production.services.thermometers import thermometer_add

SEED = 20260301
GAP = "nobody measured in between"
LONGEST_COOLING = timedelta(hours=12)
MORNING = timedelta(hours=1)  # before the first run
FORGOTTEN_MIN = 150.0  # nobody renewed the ice for so long
Place = tuple[str, str]  # a run and one of its draws
NOWHERE: Place = ("", "")
_COOLED = {FIRST: "first", "portion": "reduction"}
_AIR_C = {"chilled": (3.0, 0.6), "frozen": (-19.5, 0.8)}
_LOOKS_AT = (time(7, 0), time(11, 30))  # when the stores are looked at, by the kitchen's clock


@dataclass(frozen=True, slots=True)
class Trouble:
    """What goes wrong, by run and draw."""

    forgotten_ice: Place = NOWHERE
    nobody_measured: Place = NOWHERE
    wrong_unit: Place = NOWHERE
    weighed_wrong: str = ""
    recorded_twice: str = ""


def week_cook(
    *,
    plan: Plan,
    cook: Membership,
    manager: Membership,
    until: datetime,
    without: Collection[str] = (),
    seed: int = SEED,
) -> DemoKitchen:
    """Cook the runs of a published plan that have not begun, but for some, until a moment; the kitchen can go on."""
    content = plan_content(plan=plan)
    kitchen = DemoKitchen(content, plan.week, cook, manager, Random(seed))  # noqa: S311  no secret is made of it
    first = min(run.start_at for run in content.runs)
    stock_take_in(by=manager, statement="cooled before lots were kept here; logs on paper", now=first - MORNING)
    kitchen.thermometers = tuple(_thermometers(kitchen, first - MORNING))
    trouble = _trouble(content)
    for run in content.runs:
        if run.code not in without:
            kitchen.begin(_cooked(kitchen, run, trouble))
    kitchen.begin(_sent(kitchen))
    kitchen.begin(_stores_looked_at(kitchen, first))
    kitchen.go_on(until=until)
    return kitchen


def _trouble(plan: PlanContent) -> Trouble:
    """Spread over the week: the wrong unit first, ice forgotten in a sink, later a log that nobody kept."""
    drawn = sorted(((run, draw) for run in plan.runs for draw in run.draws), key=lambda each: each[1].start_at)
    places = [(run.code, draw.name) for run, draw in drawn]
    iced = [(run.code, draw.name) for run, draw in drawn if _is_iced(plan, draw)]
    codes = [run.code for run in sorted(plan.runs, key=lambda run: run.start_at)]
    forgotten = iced[len(iced) // 3] if iced else NOWHERE
    others = [place for place in places[1:] if place != forgotten]
    return Trouble(
        forgotten_ice=forgotten,
        nobody_measured=others[len(others) // 2] if others else NOWHERE,
        wrong_unit=next((place for place in places if place != forgotten), NOWHERE),
        weighed_wrong=codes[0],
        recorded_twice=codes[1 % len(codes)],
    )


def _is_iced(plan: PlanContent, draw: PlannedDraw) -> bool:
    devices = [plan.week.get("cooling_devices", part.device) for part in draw.cooling.parts]
    return all(device.kind == "ice_sink" for device in devices)


def _thermometers(kitchen: DemoKitchen, at: datetime) -> Sequence[str]:
    unit = "F" if kitchen.manager.kitchen.units == "us" else "C"
    listed = (("red", "Red handle"), ("blue", "Blue handle"))
    for code, name in listed:
        thermometer_add(
            by=kitchen.manager,
            code=f"{code}-{kitchen.week.starts_on:%m%d}",
            name=name,
            kind="hand",
            unit=unit,
            check_due_on=at.date() + timedelta(days=60),
            key=kitchen.key(),
            now=at,
        )
    return [f"{code}-{kitchen.week.starts_on:%m%d}" for code, _ in listed]


# --- a run ------------------------------------------------------------------------------------------------------------


def _cooked(kitchen: DemoKitchen, run: PlannedRun, trouble: Trouble) -> Hand:
    """A cook goes through the steps of the sheet, a little late here and there."""
    subject = run_subject(starts_on=kitchen.week.starts_on, code=run.code)
    at, late_min = run.start_at, 0.0
    yield at
    while run_in_pot(kitchen_id=kitchen.week.kitchen_id, pot=run.pot) is not None:
        at += timedelta(minutes=2)
        yield at
    for step, planned_at, share in _deeds(kitchen, run):
        late_min = max(0.0, min(18.0, 0.8 * late_min + kitchen.chance.gauss(0.8, 1.6)))
        at = max(at + timedelta(minutes=1), planned_at + timedelta(minutes=late_min))
        yield at
        while step.kind == "trayed" and _reductions(subject).filter(closed_at=None).exists():
            at += timedelta(minutes=5)
            yield at
        if step.kind == "trayed" and _reductions(subject).filter(verdict="breached").exists():
            continue
        _deed(kitchen, run, subject, step, share, at, trouble)


def _reductions(subject: str) -> QuerySet[CoolingRecord]:
    return CoolingRecord.objects.filter(run__subject=subject, draw="reduction")


def _deeds(kitchen: DemoKitchen, run: PlannedRun) -> list[tuple[Step, datetime, float]]:
    """Each step with its time; a reduction is weighed twice on its way."""
    steps = planned_steps(kitchen.plan, planned_sheet(content=kitchen.plan, code=run.code))
    found: list[tuple[Step, datetime, float]] = []
    for place, step in enumerate(steps):
        if step.code == REDUCE and place + 1 < len(steps):
            lasts = steps[place + 1].planned_at - step.planned_at
            found += [(step, step.planned_at + share * lasts, share) for share in (0.4, 0.75)]
        else:
            found.append((step, step.planned_at, 0.0))
    return found


def _deed(
    kitchen: DemoKitchen,
    run: PlannedRun,
    subject: str,
    step: Step,
    share: float,
    at: datetime,
    trouble: Trouble,
) -> None:
    content = typed_by_hand(step, run, share, kitchen.chance)
    if step.kind == "charge_weighed" and trouble.weighed_wrong == run.code and step.code.endswith(".1"):
        _weighed_wrong(kitchen, subject, content, at)
        return
    kitchen.record(at, step.kind, subject, content if step.code not in (BEGIN, FINISH) else {"step": step.code})
    if step.code == BOIL and trouble.recorded_twice == run.code:
        kitchen.record(at + timedelta(minutes=2), step.kind, subject, content, by=kitchen.manager)
    if step.code in _COOLED:
        _cooling_begins(kitchen, run, subject, _COOLED[step.code], trouble)


def _weighed_wrong(kitchen: DemoKitchen, subject: str, content: Mapping[str, str], at: datetime) -> None:
    """The tare was forgotten; the right weight takes the place of the wrong one."""
    right = float(content["mass"].split()[0])
    wrong = kitchen.record(at, "charge_weighed", subject, {**content, "mass": f"{1.12 * right:.2f} kg"})
    after = at + timedelta(minutes=3)
    kitchen.record(after, "charge_weighed", subject, content, corrects=wrong.key, reason="forgot the tare of the tub")


# --- a cooling --------------------------------------------------------------------------------------------------------


def _cooling_begins(kitchen: DemoKitchen, run: PlannedRun, subject: str, draw: str, trouble: Trouble) -> None:
    rows = CoolingRecord.objects.filter(kitchen_id=kitchen.week.kitchen_id, run__subject=subject, draw=draw)
    for row in rows.order_by("pk"):
        kitchen.begin(_cooled(kitchen, run, row, trouble if row.group == 1 else Trouble()))


def _cooled(kitchen: DemoKitchen, run: PlannedRun, row: CoolingRecord, trouble: Trouble) -> Hand:
    """Somebody measures when the log asks for it, until the last limit is met, and closes the log."""
    log, place = content_from_json(row.sheet), (run.code, row.draw)
    assert isinstance(log, CoolingLog)  # noqa: S101  rows hold nothing else
    forgotten = FORGOTTEN_MIN if trouble.forgotten_ice == place else 0.0
    truth = CoolingTruth.of(log, pace=kitchen.chance.uniform(1.0, 1.2), forgotten_min=forgotten)
    target_c = _target_c(row.rule)
    for number, minute in enumerate(_minutes(is_gap=trouble.nobody_measured == place)):
        at = row.opened_at + timedelta(minutes=minute)
        yield at
        shown_c = truth.temp_c(minute) + kitchen.chance.gauss(0.0, 0.2)
        _measured(kitchen, row.subject, at, shown_c, wrong_unit=number == 0 and trouble.wrong_unit == place)
        if forgotten and minute >= forgotten:
            _ice_renewed(kitchen, row.subject, at)
            forgotten = 0.0
        if shown_c <= target_c - 0.3:
            break
    yield at + timedelta(minutes=3)
    _closed(kitchen, row, at + timedelta(minutes=3), given_up=GAP if trouble.nobody_measured == place else "")
    yield at + timedelta(minutes=15)
    _packed(kitchen, run, row, at + timedelta(minutes=15))


def _target_c(code: str) -> float:
    last = rule(code).stages[-1]
    return 5.0 if last.to_temp is None else float(to_celsius(last.to_temp, last.unit))


def _minutes(*, is_gap: bool) -> list[float]:
    """When somebody measures: often at first, until the limits are shown; where nobody was there, hours later."""
    longest = LONGEST_COOLING / timedelta(minutes=1)
    if is_gap:
        return [2.0, *(420.0 + 20.0 * each for each in range(20))]
    often = [2.0, *(12.0 * each for each in range(1, 13))]
    return [*often, *(often[-1] + 20.0 * each for each in range(1, 1 + int((longest - often[-1]) / 20.0)))]


def _measured(kitchen: DemoKitchen, subject: str, at: datetime, shown_c: float, *, wrong_unit: bool) -> None:
    thermometer = kitchen.chance.choice(kitchen.thermometers)
    by = kitchen.manager if kitchen.chance.random() < 0.2 else kitchen.cook
    right = {"temp": f"{shown_c:.1f}", "unit": "C", "thermometer": thermometer}
    if not wrong_unit:
        kitchen.record(at, "reading", subject, right, by=by)
        return
    shown_f = {"temp": f"{1.8 * shown_c + 32.0:.0f}", "unit": "C", "thermometer": thermometer}
    asked = kitchen.record(at, "reading", subject, shown_f, by=by)
    again = shown_f | {"unit": "F"}
    kitchen.record(
        at + timedelta(minutes=1), "reading", subject, again, corrects=asked.key, reason="it showed °F", by=by
    )


def _ice_renewed(kitchen: DemoKitchen, subject: str, at: datetime) -> None:
    after = at + timedelta(minutes=1)
    kitchen.record(after, "ice_added", subject, {"mass": "15 kg", "into": "bath"})
    kitchen.record(
        after,
        "corrective_action",
        subject,
        {"what": "Ice had melted unseen; renewed, and the group kept apart until it is decided"},
        by=kitchen.manager,
    )


def _closed(kitchen: DemoKitchen, row: CoolingRecord, at: datetime, *, given_up: str) -> None:
    if given_up:
        said = {"given_up": True}
        kitchen.record(at, "cooling_closed", row.subject, said, reason=given_up, by=kitchen.manager)
        return
    closed = kitchen.record(at, "cooling_closed", row.subject, {}, may_be_refused="cooling-not-done")
    if closed.outcome == "refused":
        _closed(kitchen, row, at, given_up="measured too rarely to show it")
        return
    row.refresh_from_db(fields=["verdict"])
    if row.verdict == "breached":
        _thrown_away(kitchen, row, at + timedelta(minutes=10))


def _thrown_away(kitchen: DemoKitchen, row: CoolingRecord, at: datetime) -> None:
    """In doubt it is discarded; the deviation is closed with all that it asks for."""
    deviation = Deviation.objects.get(cooling=row, state=Deviation.State.OPEN)
    litres = f"{row.sheet['litres']:.0f} L"
    deviation_act(
        by=kitchen.manager,
        number=deviation.number,
        measure="discard",
        what="All vessels of the group emptied into the waste drum",
        numbers=litres,
        witness=kitchen.cook.user.get_username(),
        key=kitchen.key(),
        now=at,
    )
    deviation_close(
        by=kitchen.manager,
        number=deviation.number,
        cause="Ice bath not looked at between two readings",
        prevention="Ice is checked with every reading; the log says so now",
        disposition="discard",
        quantity=litres,
        witness=kitchen.cook.user.get_username(),
        key=kitchen.key(),
        now=at,
    )


# --- lots -------------------------------------------------------------------------------------------------------------


def _packed(kitchen: DemoKitchen, run: PlannedRun, row: CoolingRecord, at: datetime) -> None:
    """Pack a draw when its last log is closed; what was thrown away is not packed."""
    groups = list(CoolingRecord.objects.filter(run_id=row.run_id, draw=row.draw))
    if any(each.closed_at is None for each in groups) or row.lots.exists():
        return
    good = [each for each in groups if each.verdict != "breached"]
    portions = run.batch.first if row.draw == "first" else run.batch.reduction
    for portion in portions if good else ():
        containers = portion.containers * len(good) // len(groups)
        if containers:
            _lot(kitchen, good, portion, containers, at)


def _lot(kitchen: DemoKitchen, good: Sequence[CoolingRecord], portion: Portion, containers: int, at: datetime) -> None:
    storage = kitchen.plan.week.get("products", portion.product).storage
    store = Store.objects.filter(kitchen_id=kitchen.week.kitchen_id, kind=storage, retired=False).first()
    if store is None:
        return
    lot = lot_make(
        by=kitchen.cook,
        coolings=[each.subject for each in good],
        product=portion.product,
        containers=containers,
        store=store.code,
        packed_at=at,
        key=kitchen.key(),
        now=at,
    )
    if all(each.verdict == "met" for each in good):
        after = at + timedelta(minutes=5)
        lot_release(
            by=kitchen.cook, code=lot.code, seen="held", reason="limits met, labels read", key=kitchen.key(), now=after
        )


# --- what leaves, and the stores --------------------------------------------------------------------------------------


def _sent(kitchen: DemoKitchen) -> Hand:
    """Before each time of leaving somebody picks what goes, first expired first out."""
    zone = ZoneInfo(kitchen.plan.week.kitchen.time_zone)
    for leaves_at in sorted({line.dispatch_at for line in kitchen.plan.week.order_lines}):
        at = leaves_at - timedelta(minutes=20)
        yield at
        for line in leaving_on(by=kitchen.cook, day=leaves_at.astimezone(zone).date(), now=at):
            picked = [Picked(lot=pick.lot, containers=pick.containers) for pick in line.picks]
            if line.dispatch_at == leaves_at and line.week == kitchen.week.starts_on and picked:
                dispatch_confirm(
                    by=kitchen.cook, line=line.id, picked=picked, happened_at=at, key=kitchen.key(), now=at
                )


def _stores_looked_at(kitchen: DemoKitchen, first: datetime) -> Hand:
    """The air of each store, twice a day."""
    zone = ZoneInfo(kitchen.plan.week.kitchen.time_zone)
    stores = list(Store.objects.filter(kitchen_id=kitchen.week.kitchen_id, retired=False).order_by("position", "pk"))
    for day in range(kitchen.plan.week.days):
        for look in _LOOKS_AT:
            date = kitchen.plan.week.starts_on + timedelta(days=day)
            at = datetime.combine(date, look, zone).astimezone(first.tzinfo)
            yield at
            for store in stores:
                usual_c, spread_c = _AIR_C[store.kind]
                shown = f"{kitchen.chance.gauss(usual_c, spread_c):.1f}"
                told = {"temp": shown, "unit": "C", "measured": "air", "thermometer": kitchen.thermometers[0]}
                kitchen.record(at, "storage_temp", f"store/{store.code}", told)
