"""What has been asked of the planner, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from production.domain.kitchen import Week
from production.domain.plan import Ask, LockRun, ask_from_json, ask_text
from production.web.style import Style

if TYPE_CHECKING:
    from production.models import PlanAsk


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedRow:
    """One thing that was asked, by whom and when."""

    pk: int
    sentence: str
    about: int  # the plan it was said about
    who: str
    when: str
    kept: bool  # the plan that is looked at keeps to it


def asked_rows(*, asks: Iterable[PlanAsk], kept: tuple[Ask, ...], week: Week, style: Style) -> tuple[AskedRow, ...]:
    """What holds, first said first."""
    rows = []
    for row in asks:
        ask = ask_from_json(row.content)
        who = row.created_by
        rows.append(
            AskedRow(
                pk=row.pk,
                sentence=ask_text(ask, week),
                about=row.plan.number,
                who=(who.get_full_name() or who.get_username()) if who else "",
                when=style.when(row.created_at),
                kept=ask in kept,
            )
        )
    return tuple(rows)


def locked_runs(asks: Iterable[Ask]) -> frozenset[str]:
    """Runs whose pot or start is held."""
    return frozenset(ask.run for ask in asks if isinstance(ask, LockRun) and (ask.pot or ask.start_at))
