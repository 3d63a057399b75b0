"""Days of life of what was cooked: day 1, use-by, what freezing pauses, and cautions where a rule is near."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from production.domain.demand import use_by_date
from production.domain.errors import OutOfRange

DATE_MARK_DAYS = 7  # FDA Food Code 3-501.17(A), read in adopted state texts; day of preparation = day 1
SEALED_HOT_DAYS = 7  # reduced-oxygen packs at 41 F / 5 °C: the shorter of the two ways, county guideline, read


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How long something may be used, and what to mind."""

    made_on: date  # day 1
    use_by: date
    days_used: int  # frozen: days that had passed when it went into the freezer
    cautions: tuple[str, ...]


def day_one(*, cooked_at: Sequence[datetime], zone: ZoneInfo) -> date:
    """The day that counts as day 1: the day on which cooking ended; pooled food keeps the day of its oldest part.

    Equation: the calendar day of the earliest of the moments, in the kitchen's time zone.
    Units: cooked_at [instant], zone (record); returns [calendar day].
    Valid: at least one moment.
    Errors: none.
    Source: oldest part: FDA Food Code 3-501.17(C), read in an adopted text; the day cooking ends is common practice,
        no source.
    """
    return min(cooked_at).astimezone(zone).date()


def days_used(*, made_on: date, frozen_on: date, count_freeze_day: bool) -> int:
    """Days of life that have passed when food is frozen: freezing pauses the count and does not reset it.

    Equation: frozen_on - made_on, and one more where the day of freezing counts.
    Units: made_on, frozen_on [calendar day], count_freeze_day (flag); returns [day].
    Valid: frozen_on not before made_on.
    Errors: OutOfRange when it is.
    Source: Minnesota Rules 4626.0400 and a North Carolina sheet of examples, both read: the day of freezing is not
        counted there; to count it is the careful choice.
    """
    if frozen_on < made_on:
        raise OutOfRange(
            "It cannot have been frozen before it was made.",
            code="frozen-before-made",
            numbers={"made_on": made_on.isoformat(), "frozen_on": frozen_on.isoformat()},
            remedy="Correct the day.",
        )
    return (frozen_on - made_on).days + (1 if count_freeze_day else 0)


def thawed_use_by(*, thawed_on: date, used_days: int, max_days: int = DATE_MARK_DAYS) -> date:
    """Last day of use after thawing: the days that were left when it was frozen, the day of thawing being the next.

    Equation: thawed_on + (max_days - used_days) - 1.
    Units: thawed_on, result [calendar day]; used_days [day], max_days [day].
    Valid: used_days from 0 to max_days - 1.
    Errors: OutOfRange when no day is left.
    Source: Minnesota Rules 4626.0400 and a North Carolina sheet of examples, read.
    """
    left = max_days - used_days
    if left < 1:
        raise OutOfRange(
            f"It was frozen after {used_days} of its {max_days} days; no day is left for use after thawing.",
            code="no-days-left",
            numbers={"used_days": used_days, "max_days": max_days},
            remedy="Discard it.",
        )
    return thawed_on + timedelta(days=left - 1)


def life_of(*, made_on: date, packed_on: date, frozen: bool, shelf_life_days: int, sealed_hot: bool = False) -> Life:
    """Use-by (frozen: best before) of a lot by its product's shelf life, with cautions.

    Equation: made_on + shelf_life_days - 1; chilled packs that were sealed hot get no more than 7 days.
    Units: made_on, packed_on [calendar day], frozen, sealed_hot (flags), shelf_life_days [day]; returns a record.
    Valid: packed_on not before made_on; the day of freezing counts as used, which is the careful choice.
    Errors: OutOfRange when it was packed before it was made.
    Source: day of preparation is day 1: FDA Food Code 3-501.17(A), read in adopted texts; reduced-oxygen packs:
        3-502.12, read in state texts; frozen shelf life is quality and the product's own, common practice, no source.
    """
    used = days_used(made_on=made_on, frozen_on=packed_on, count_freeze_day=True)
    days = min(shelf_life_days, SEALED_HOT_DAYS) if sealed_hot and not frozen else shelf_life_days
    cautions = _frozen_cautions(used) if frozen else _chilled_cautions(shelf_life_days)
    if sealed_hot:
        cautions += _sealed_cautions()
    return Life(
        made_on=made_on,
        use_by=use_by_date(made_on=made_on, shelf_life_days=days),
        days_used=used if frozen else 0,
        cautions=tuple(cautions),
    )


def _chilled_cautions(shelf_life_days: int) -> list[str]:
    if shelf_life_days <= DATE_MARK_DAYS:
        return []
    return [
        (
            f"Its shelf life of {shelf_life_days} days is longer than the {DATE_MARK_DAYS} days, day 1 included, of "
            "the FDA Food Code for ready-to-eat food kept at 5 °C (41 °F): the kitchen's approved plan must cover it."
        )
    ]


def _frozen_cautions(used: int) -> list[str]:
    left = DATE_MARK_DAYS - used
    if left < 1:
        return [f"It was frozen after {used} days: no day of use is left after thawing."]
    return [f"Once thawed: keep at 5 °C (41 °F) or colder, use within {left} days, the day of thawing included."]


def _sealed_cautions() -> list[str]:
    return [
        (
            "Sealed hot, so without oxygen: only under the kitchen's approved plan for such packs; keep at 5 °C "
            "(41 °F) or colder, and do not give it to another business without the authority's leave."
        )
    ]
