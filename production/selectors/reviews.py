"""The logs that are to be reviewed, and how each stands; an inspector of several kitchens has one list over all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Prefetch, Q, QuerySet, Value, When

from production.domain.records.reviews import overdue_up_to
from production.models import (
    CoolingDevice,
    CoolingRecord,
    Deviation,
    Entry,
    Formula,
    Lot,
    Membership,
    Pot,
    Product,
    Review,
)
from production.selectors.access import Action, may, memberships_of, require
from production.selectors.deviations import review_days

DONE = (Review.State.SIGNED, Review.State.REFUSED)
_DRAWS = {"broth": ("first",), "reduction": ("second", "reduction"), "cubes": ("second", "reduction")}
_ANY = Q(Exists(Deviation.objects.filter(cooling=OuterRef("pk"))))
_OPEN = Q(Exists(Deviation.objects.filter(cooling=OuterRef("pk"), state=Deviation.State.OPEN)))
_NOT_DONE = ~Q(review__state__in=DONE) | Q(review__isnull=True)
_REVIEWS = {
    "waiting": _NOT_DONE,
    "overdue": _NOT_DONE,
    "asked": Q(review__asked=True),
    "signed": Q(review__state="signed"),
    "refused": Q(review__state="refused"),
    "lost": Q(review__state="lost"),
}
_DEVIATED = {"open": _OPEN, "closed": _ANY & ~_OPEN, "none": ~_ANY}
_LOTS = Prefetch("lots", Lot.objects.select_related("product").order_by("code"))
_DEVIATIONS = Prefetch("deviations", Deviation.objects.order_by("number"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewFilter:
    """Which logs are looked at; empty fields do not choose. Days are those of closing, by the kitchen's clock."""

    review: str = "waiting"  # waiting, overdue, asked, lost, signed, refused, all
    since: date | None = None
    until: date | None = None
    verdict: str = ""
    deviation: str = ""  # open, closed, none
    formula: str = ""
    product: str = ""
    pot: str = ""
    device: str = ""
    person: int | None = None


def memberships_inspecting(*, user: object) -> list[Membership]:
    """The kitchens whose records this person may inspect."""
    return [each for each in memberships_of(user=user) if may(each, Action.INSPECT)]  # type: ignore[arg-type]


def logs_to_review(
    *, by: Sequence[Membership], chosen: ReviewFilter = ReviewFilter(), now: datetime
) -> QuerySet[CoolingRecord]:
    """Closed logs: open deviations first, then limits not kept, then the oldest, with what a list of them needs."""
    for each in by:
        require(each, Action.INSPECT)
    rows = CoolingRecord.objects.filter(_kitchens(by, chosen, now), *_chosen(by, chosen), closed_at__isnull=False)
    first, second = When(_OPEN, then=Value(0)), When(~Q(verdict="met"), then=Value(1))
    return (
        rows.annotate(turn=Case(first, second, default=Value(2), output_field=IntegerField()))
        .select_related("kitchen", "run", "run__pot", "device", "review", "review__signature")
        .defer("run__sheet", "digest", "curve")
        .prefetch_related(_LOTS, _DEVIATIONS)
        .order_by("turn", "closed_at", "pk")
    )


def _kitchens(by: Sequence[Membership], chosen: ReviewFilter, now: datetime) -> Q:
    """Each kitchen by its own clock and its own number of working days."""
    found = Q(pk__in=[])
    for each in by:
        zone = ZoneInfo(each.kitchen.time_zone)
        one = Q(kitchen_id=each.kitchen_id)
        if chosen.since is not None:
            one &= Q(closed_at__gte=_midnight(chosen.since, zone))
        if chosen.until is not None:
            one &= Q(closed_at__lt=_midnight(chosen.until + timedelta(days=1), zone))
        if chosen.review == "overdue":
            one &= Q(closed_at__lt=_overdue_before(each, now))
        found |= one
    return found


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone)


def _overdue_before(by: Membership, now: datetime) -> datetime:
    zone = ZoneInfo(by.kitchen.time_zone)
    newest = overdue_up_to(today=now.astimezone(zone).date(), days=review_days(kitchen=by.kitchen))
    return _midnight(newest + timedelta(days=1), zone)


def _chosen(by: Sequence[Membership], chosen: ReviewFilter) -> list[Q]:
    """What each field of the filter asks for."""
    person = Entry.objects.filter(kitchen_id=OuterRef("kitchen_id"), subject=OuterRef("subject"), by=chosen.person)
    fields = {
        "verdict": chosen.verdict,
        "sheet__formula": chosen.formula,
        "run__pot__code": chosen.pot,
        "device__code": chosen.device,
    }
    return [
        _REVIEWS.get(chosen.review, Q()),
        _DEVIATED.get(chosen.deviation, Q()),
        Q(**{name: value for name, value in fields.items() if value}),
        _holds(by, chosen.product) if chosen.product else Q(),
        Q() if chosen.person is None else Q(Exists(person)),
    ]


def _holds(by: Sequence[Membership], product: str) -> Q:
    """Logs of which lots of the product were made; while none is made, those of a draw that it could come from."""
    lots = Lot.objects.filter(coolings=OuterRef("pk"))
    packed = Q(Exists(lots.filter(product__code=product)))
    rows = Product.objects.filter(kitchen_id__in=[each.kitchen_id for each in by], code=product)
    row = rows.values_list("formula__name", "kind").first()
    if row is None:
        return packed
    return packed | Q(~Exists(lots), sheet__formula=row[0], draw__in=_DRAWS.get(row[1], ()))


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewCounts:
    """What waits."""

    waiting: int
    overdue: int
    asked: int
    deviations: int
    deviations_overdue: int


def review_counts(*, by: Sequence[Membership], now: datetime) -> ReviewCounts:
    """For the head of a list."""

    def count(review: str) -> int:
        return logs_to_review(by=by, chosen=ReviewFilter(review=review), now=now).order_by().count()

    late = Q(pk__in=[])
    for each in by:
        late |= Q(kitchen_id=each.kitchen_id, due_on__lt=now.astimezone(ZoneInfo(each.kitchen.time_zone)).date())
    open_ones = Deviation.objects.filter(kitchen_id__in=[each.kitchen_id for each in by], state=Deviation.State.OPEN)
    return ReviewCounts(
        waiting=count("waiting"),
        overdue=count("overdue"),
        asked=count("asked"),
        deviations=open_ones.count(),
        deviations_overdue=open_ones.filter(late).count(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewChoices:
    """What can be chosen in the filter of one kitchen: (value, name) each."""

    formulas: tuple[tuple[str, str], ...]
    products: tuple[tuple[str, str], ...]
    pots: tuple[tuple[str, str], ...]
    devices: tuple[tuple[str, str], ...]
    people: tuple[tuple[str, str], ...]


def review_choices(*, by: Membership) -> ReviewChoices:
    """Names of this kitchen, also of what is out of use: old logs speak of it."""
    require(by, Action.INSPECT)
    own = {"kitchen_id": by.kitchen_id}
    formulas = Formula.objects.filter(**own).order_by("name").values_list("name", flat=True).distinct()
    people = Membership.objects.filter(**own).select_related("user").order_by("user__last_name", "user__username")
    return ReviewChoices(
        formulas=tuple((name, name) for name in dict.fromkeys(formulas)),
        products=tuple(Product.objects.filter(**own).order_by("name").values_list("code", "name")),
        pots=tuple(Pot.objects.filter(**own).order_by("name").values_list("code", "name")),
        devices=tuple(CoolingDevice.objects.filter(**own).order_by("name").values_list("code", "name")),
        people=tuple((str(each.user_id), each.user.get_full_name() or each.user.get_username()) for each in people),
    )


def questions_waiting(*, by: Membership) -> QuerySet[CoolingRecord]:
    """Logs about which an inspector waits for an answer of the kitchen."""
    require(by, Action.SEE_RECORDS)
    rows = CoolingRecord.objects.filter(kitchen_id=by.kitchen_id, review__asked=True)
    return rows.select_related("run", "device").defer("run__sheet", "digest", "curve").order_by(F("closed_at"), "pk")
