"""What a run or an order line waits for, link by link."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from production.domain.plan import LateLine, Plan, Wait, Waits, waits_of_line, waits_of_run
from production.web.present.words import days_said, line_name


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainLink:
    """One sentence of the chain, with the run that waits and its number on the timeline; none where a line waits."""

    number: int
    run: str
    href: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A chain of waiting: its head, why that is late or missing, the links, and what is at the end."""

    head: str
    reasons: tuple[str, ...]
    links: tuple[ChainLink, ...]
    end: str
    runs: tuple[str, ...]  # in the order of their numbers on the timeline
    asked: str  # as it stands in the address


def chain_of_run(plan: Plan, run: str, href: Callable[[str], str]) -> Chain | None:
    """What a run waits for; None where the plan has no such run."""
    if all(each.code != run for each in plan.runs):
        return None
    late = [each for each in plan.late if each.run == run]
    return _chain(
        waits_of_run(plan, run),
        head=f"What {run} waits for",
        reasons=tuple(_late_for(plan, late)),
        href=href,
        asked=f"waits={run}",
    )


def _late_for(plan: Plan, late: Iterable[LateLine]) -> Iterator[str]:
    """Why lines that wait for the run are late, once where several are late alike."""
    alike: dict[str, list[str]] = {}
    for each in late:
        alike.setdefault(each.sentence, []).append(line_name(plan.week, each.line))
    for sentence, lines in alike.items():
        yield f"{'; '.join(dict.fromkeys(lines))}: {days_said(sentence)}"


def chain_of_line(plan: Plan, line: str, href: Callable[[str], str]) -> Chain | None:
    """Who has what an unserved line lacks; None where the plan serves it."""
    missing = [each for each in plan.unserved if each.line == line]
    if not missing:
        return None
    return _chain(
        waits_of_line(plan, line),
        head=f"What {line_name(plan.week, line)} lacks",
        reasons=tuple(dict.fromkeys(days_said(f"{each.sentence} {each.remedy}") for each in missing)),
        href=href,
        asked=f"missing={line}",
    )


def _chain(waits: Waits, *, head: str, reasons: tuple[str, ...], href: Callable[[str], str], asked: str) -> Chain:
    return Chain(
        head=head,
        reasons=reasons,
        links=tuple(_link(waits, wait, href) for wait in waits.links),
        end=days_said(waits.end),
        runs=waits.runs,
        asked=asked,
    )


def _link(waits: Waits, wait: Wait, href: Callable[[str], str]) -> ChainLink:
    number = waits.runs.index(wait.run) + 1 if wait.run else 0
    return ChainLink(number=number, run=wait.run, href=href(wait.run) if wait.run else "", sentence=wait.sentence)
