"""Deviations: what went wrong, what may be done about it, what was done, and what became of the food."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q, QuerySet
from django.http import Http404

from production.domain.records.actions import Action as Measure
from production.domain.records.actions import Kind
from production.domain.records.reviews import PUT_RIGHT, dispositions_for
from production.models import CoolingRecord, Deviation, Entry, Kitchen, Lot, Membership, SafetyPlan
from production.selectors.access import Action, require
from production.selectors.coolings import cooling_now

BAD = ("breached", "not_shown")
ACTED = ("corrective_action", "reheated")
_COOLING = Prefetch("cooling", CoolingRecord.objects.select_related("run", "device").defer("digest", "curve"))
_LOTS = Prefetch("cooling__lots", Lot.objects.select_related("product"))


def deviation_subject(number: int) -> str:
    """What entries about a deviation are filed under."""
    return f"deviation/{number}"


def review_days(*, kitchen: Kitchen) -> int:
    """In how many working days records are to be reviewed here."""
    plans = SafetyPlan.objects.filter(kitchen=kitchen)
    return plans.values_list("review_working_days", flat=True).first() or 7


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviationFilter:
    """Which deviations are looked at; days are those of the kitchen's clock, both included."""

    state: str = ""  # open, closed, overdue
    kind: str = ""
    verdict: str = ""  # of the log it is about
    since: date | None = None
    until: date | None = None


def deviations_of(*, by: Membership, today: date, chosen: DeviationFilter = DeviationFilter()) -> QuerySet[Deviation]:
    """The kitchen's deviations, open ones first, then the oldest, with what a list of them needs."""
    require(by, Action.SEE_RECORDS)
    rows = (
        Deviation.objects.filter(kitchen_id=by.kitchen_id)
        .select_related("opened_by", "closed_by")
        .prefetch_related(_COOLING, _LOTS, "lots__product")
    )
    if chosen.state in ("open", "closed"):
        rows = rows.filter(state=chosen.state)
    elif chosen.state == "overdue":
        rows = rows.filter(state=Deviation.State.OPEN, due_on__lt=today)
    if chosen.kind:
        rows = rows.filter(kind=chosen.kind)
    if chosen.verdict:
        rows = rows.filter(kind=Deviation.Kind.COOLING, cooling__verdict=chosen.verdict)
    zone = ZoneInfo(by.kitchen.time_zone)
    if chosen.since is not None:
        rows = rows.filter(opened_at__gte=datetime.combine(chosen.since, time(), zone))
    if chosen.until is not None:
        rows = rows.filter(opened_at__lt=datetime.combine(chosen.until + timedelta(days=1), time(), zone))
    return rows.order_by("-state", "number")


def deviation_of(*, by: Membership, number: int) -> Deviation:
    """One deviation by its number."""
    require(by, Action.SEE_RECORDS)
    rows = Deviation.objects.filter(kitchen_id=by.kitchen_id, number=number)
    found = rows.select_related("cooling", "cooling__run", "opened_by", "closed_by", "kitchen").first()
    if found is None:
        raise Http404("This kitchen has no such deviation.")
    return found


def deviations_about(*, by: Membership, subject: str) -> tuple[Deviation, ...]:
    """All deviations about one thing, the oldest first."""
    require(by, Action.SEE_RECORDS)
    rows = Deviation.objects.filter(kitchen_id=by.kitchen_id, about=subject)
    return tuple(rows.select_related("opened_by", "closed_by").order_by("number"))


def lots_of_deviation(deviation: Deviation) -> QuerySet[Lot]:
    """The lots that it is about: those of the cooling, and those that were named."""
    wanted = Q(deviations=deviation)
    if deviation.cooling_id is not None:
        wanted |= Q(coolings=deviation.cooling_id)
    return Lot.objects.filter(wanted, kitchen_id=deviation.kitchen_id).select_related("product").distinct()


def actions_of_deviation(deviations: Sequence[Deviation]) -> dict[int, list[Entry]]:
    """What was done about each, by its number: recorded with it, or on the floor in the log that it is about."""
    of_subject: dict[str, list[int]] = {}
    for each in deviations:
        of_subject.setdefault(deviation_subject(each.number), []).append(each.number)
        if each.kind == Deviation.Kind.COOLING:
            of_subject.setdefault(each.about, []).append(each.number)
    found: dict[int, list[Entry]] = {each.number: [] for each in deviations}
    if not deviations:
        return found
    entries = Entry.objects.filter(
        kitchen_id=deviations[0].kitchen_id, subject__in=of_subject, kind__in=ACTED, corrections=None
    )
    for entry in entries.order_by("number"):
        for number in of_subject[entry.subject]:
            found[number].append(entry)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What the rule allows about a deviation now, and what may become of the food."""

    measures: tuple[Measure, ...]
    dispositions: tuple[str, ...]
    has_next_attempt: bool


def remedies_of(*, by: Membership, deviation: Deviation, now: datetime) -> Remedies:
    """Measures of the rule, and dispositions."""
    lots = lots_of_deviation(deviation).filter(left__gt=0).exists()
    cooling = deviation.cooling
    if cooling is None:
        return Remedies(
            measures=(), dispositions=_dispositions("", (), has_next=False, lots=lots), has_next_attempt=False
        )
    measures = cooling_now(by=by, subject=cooling.subject, now=now).actions
    has_next = next_attempt_of(cooling) is not None
    if deviation.kind != Deviation.Kind.COOLING and cooling.verdict in BAD:
        # The deviation of its cooling decides about the food; here it can only be thrown away besides.
        dispositions: tuple[str, ...] = ("none", "discard") if lots else ("none",)
    else:
        kinds = _kinds(cooling, measures)
        dispositions = _dispositions(cooling.verdict, kinds, has_next=has_next, lots=lots)
    return Remedies(measures=measures, dispositions=dispositions, has_next_attempt=has_next)


def measures_for(deviation: Deviation, remedies: Remedies) -> tuple[str, ...]:
    """What may be recorded as done: what the rule allows, and putting right; where no rule speaks, hold and discard."""
    by_rule = tuple(each.kind.value for each in remedies.measures)
    return (*by_rule, PUT_RIGHT) if deviation.cooling_id is not None else ("hold", "discard", PUT_RIGHT)


def _kinds(cooling: CoolingRecord, measures: Iterable[Measure]) -> set[Kind]:
    """Where a later reading would show more than the verdict that stands, the food is held all the same."""
    kinds = {each.kind for each in measures}
    return kinds or ({Kind.HOLD, Kind.DISCARD} if cooling.verdict in BAD and cooling.attempt == 1 else set())


def _dispositions(verdict: str, kinds: Iterable[Kind], *, has_next: bool, lots: bool) -> tuple[str, ...]:
    return dispositions_for(verdict=verdict, allowed=set(kinds), has_next_attempt=has_next, holds_food=lots)


def next_attempt_of(cooling: CoolingRecord) -> CoolingRecord | None:
    """The attempt that a re-heat has begun after this one."""
    return CoolingRecord.objects.filter(
        run_id=cooling.run_id,
        draw=cooling.draw,
        device_id=cooling.device_id,
        group=cooling.group,
        attempt=cooling.attempt + 1,
    ).first()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviationCounts:
    """How many there are to decide, and how many are overdue."""

    open: int
    overdue: int


def deviation_counts(*, by: Membership, today: date) -> DeviationCounts:
    """For the head of a page."""
    require(by, Action.SEE_RECORDS)
    rows = Deviation.objects.filter(kitchen_id=by.kitchen_id, state=Deviation.State.OPEN)
    return DeviationCounts(open=rows.count(), overdue=rows.filter(due_on__lt=today).count())
