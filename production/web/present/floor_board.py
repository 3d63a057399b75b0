"""The board of the floor: what is under way, what begins next, what has the least time left to cool."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from production.domain.records.standing import CoolingNow
from production.drawing.palette import Meaning
from production.selectors.run_records import BoardRun, FloorBoard
from production.web.present.floor_coolings import GroupView, group_view
from production.web.present.floor_run import STATE_WORDS
from production.web.style import Style

MOST_TO_BEGIN = 6
MOST_COOLING = 4
_LATE_MIN = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTile:
    """One run: where it stands and what comes next."""

    code: str
    title: str
    pot: str
    step: str
    when: str
    until: str
    meaning: Meaning
    note: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPage:
    """Everything on the board."""

    under_way: tuple[RunTile, ...]
    to_begin: tuple[RunTile, ...]
    later: int  # runs to begin that are not shown
    over: tuple[RunTile, ...]
    cooling: tuple[GroupView, ...]
    more_cooling: int
    is_published: bool


def board_page(
    boards: Iterable[FloorBoard], *, cooling: tuple[CoolingNow, ...], style: Style, href: Callable[[str], str]
) -> BoardPage:
    """Put the boards of one or two weeks together; `href` gives the page of a run by its subject."""
    found = tuple(boards)
    waiting = [run for board in found for run in board.to_begin]
    return BoardPage(
        under_way=tuple(_under_way(run, style, href) for board in found for run in board.under_way),
        to_begin=tuple(_to_begin(run, style, href) for run in waiting[:MOST_TO_BEGIN]),
        later=max(0, len(waiting) - MOST_TO_BEGIN),
        over=tuple(_over(run, style, href) for board in found for run in board.over),
        cooling=tuple(group_view(each, style) for each in cooling[:MOST_COOLING]),
        more_cooling=max(0, len(cooling) - MOST_COOLING),
        is_published=any(board.plan_number is not None for board in found),
    )


def _under_way(run: BoardRun, style: Style, href: Callable[[str], str]) -> RunTile:
    current = run.course.current if run.course else None
    late = run.course.lateness.minutes if run.course else 0
    return RunTile(
        code=run.code,
        title=f"{run.code} {run.formula}",
        pot=run.pot,
        step=current.step.title if current else "Nothing left to record",
        when=style.when(current.expected_at) if current else "",
        until=current.expected_at.isoformat() if current else "",
        meaning="near" if late >= _LATE_MIN else "within",
        note=f"{late} min late" if late >= _LATE_MIN else "in time",
        href=href(run.subject),
    )


def _to_begin(run: BoardRun, style: Style, href: Callable[[str], str]) -> RunTile:
    late = run.start_at < style.now
    return RunTile(
        code=run.code,
        title=f"{run.code} {run.formula}",
        pot=run.pot,
        step="Begin",
        when=style.when(run.start_at),
        until=run.start_at.isoformat(),
        meaning="near" if late else "open",
        note="should have begun" if late else "",
        href=href(run.subject),
    )


def _over(run: BoardRun, style: Style, href: Callable[[str], str]) -> RunTile:
    return RunTile(
        code=run.code,
        title=f"{run.code} {run.formula}",
        pot=run.pot,
        step=STATE_WORDS[run.state],
        when=style.when(run.end_at),
        until="",
        meaning="open",
        note="",
        href=href(run.subject),
    )
