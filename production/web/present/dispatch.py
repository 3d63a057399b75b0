"""What leaves, by time and outlet, with the lots to pick."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from production.web.style import Style

if TYPE_CHECKING:
    from production.domain.records.stock import Picks
    from production.models import Lot
    from production.selectors.stock import LineState


@dataclass(frozen=True, slots=True, kw_only=True)
class PickRow:
    """A lot to take containers from."""

    field: str
    lot: str
    where: str
    life: str
    containers: int
    typed: str  # what stands in the field: the suggestion, or what somebody has typed and was refused


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """An order line with the lots it gets."""

    product: str
    container: str
    ordered: int
    sent: int
    missing: int
    short: int  # of the missing ones, those that no free lot can serve
    picks: tuple[PickRow, ...]
    other: str  # names of the fields for a lot that was not suggested, and what was typed there
    other_lot: str
    other_count: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """All that leaves for one outlet at one time."""

    at: datetime
    when: str
    outlet: str
    outlet_code: str
    contact: str
    lines: tuple[LineRow, ...]
    anchor: str

    @property
    def missing(self) -> int:
        """Containers that have not left yet."""
        return sum(line.missing for line in self.lines)

    @property
    def sent(self) -> int:
        """Containers that have left."""
        return sum(line.sent for line in self.lines)

    @property
    def to_pick(self) -> int:
        """Containers that are suggested."""
        return sum(pick.containers for line in self.lines for pick in line.picks)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLink:
    """A day that can be looked at."""

    label: str
    iso: str
    current: bool


def leaving_of(
    *,
    states: Sequence[LineState],
    picks: Picks,
    lots: dict[str, Lot],
    day: date,
    style: Style,
    typed: Mapping[str, str],
) -> tuple[Leaving, ...]:
    """The groups of a day, in the order of leaving."""
    groups: dict[tuple[datetime, str], list[LineState]] = {}
    for state in states:
        if style.day_of(state.line.dispatch_at) == day:
            groups.setdefault((state.line.dispatch_at, state.line.outlet.code), []).append(state)
    return tuple(
        Leaving(
            at=at,
            when=style.clock(at),
            outlet=members[0].line.outlet.name,
            outlet_code=code,
            contact=members[0].line.outlet.contact,
            lines=tuple(_line(each, picks, lots, style, typed) for each in members),
            anchor=f"leaves-{at:%H%M}-{code}",
        )
        for (at, code), members in groups.items()
    )


def _line(state: LineState, picks: Picks, lots: dict[str, Lot], style: Style, typed: Mapping[str, str]) -> LineRow:
    line = state.line
    key = f"{line.week.starts_on}/{line.code}"
    return LineRow(
        product=line.product.name,
        container=line.product.container.name,
        ordered=line.containers,
        sent=state.sent,
        missing=state.missing,
        short=picks.short.get(key, 0),
        picks=tuple(
            PickRow(
                field=f"pick-{line.pk}-{each.lot}",
                lot=each.lot,
                where=lots[each.lot].store.name,
                life=style.day(lots[each.lot].use_by),
                containers=each.containers,
                typed=typed.get(f"pick-{line.pk}-{each.lot}", str(each.containers)),
            )
            for each in picks.picks
            if each.line == key
        ),
        other=f"{line.pk}",
        other_lot=typed.get(f"other-{line.pk}", ""),
        other_count=typed.get(f"count-{line.pk}", ""),
    )


def day_links(*, days: Sequence[date], day: date, style: Style) -> tuple[DayLink, ...]:
    """The days around today."""
    return tuple(DayLink(label=style.day(each), iso=each.isoformat(), current=each == day) for each in days)
