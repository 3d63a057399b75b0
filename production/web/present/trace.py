"""Traces and drills as the pages show them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.urls import reverse

from production.documents.trace_report import KIND_WORDS, thread_drawn, trace_report_view
from production.domain.records.trace import Kind
from production.drawing.canvas import Size, Svg
from production.drawing.lot_thread import lot_thread, lot_thread_height, lot_thread_narrow
from production.web.style import Style, duration_text

if TYPE_CHECKING:
    from production.domain.records.trace import Node
    from production.domain.records.trace_report import TraceReport
    from production.selectors.drills import Drill
    from production.selectors.trace_starts import Found

WIDTH_PX = 960.0
_NOT_TRACED = frozenset({Kind.COOLING, Kind.UNNAMED})


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRow:
    """A thing that a search has found."""

    kind: str
    code: str
    name: str
    detail: str
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillRow:
    """A drill as a line."""

    number: int
    target: str
    begun: str
    by: str
    is_running: bool
    took: str
    found: str
    reached: str
    located: str


def found_rows(found: Sequence[Found]) -> tuple[FoundRow, ...]:
    """What can be traced, one line each."""
    return tuple(
        FoundRow(
            kind=KIND_WORDS[each.node.kind],
            code=each.node.code,
            name=each.node.name,
            detail=each.node.detail or each.node.contact,
            key=each.node.key,
        )
        for each in found
    )


def thread_context(*, report: TraceReport, kitchen: str) -> dict[str, Any]:
    """Everything the page of a thread shows."""
    thread = thread_drawn(report, href_of=_links(kitchen, report))
    return trace_report_view(report) | {
        "wide": _wide(report, kitchen),
        "narrow": lot_thread_narrow(thread),
        "is_period": report.since is not None,
        "cooling_href": {},
    }


def _wide(report: TraceReport, kitchen: str) -> Svg:
    thread = thread_drawn(report, href_of=_links(kitchen, report))
    return lot_thread(thread, Size(width_px=WIDTH_PX, height_px=lot_thread_height(thread)))


def _links(kitchen: str, report: TraceReport) -> Callable[[Node], str]:
    """Each knot leads to its own trace; a cooling has none of its own."""

    def href(node: Node) -> str:
        if node.kind in _NOT_TRACED or node.key == report.start.key:
            return ""
        return reverse("trace-thread", args=[kitchen, node.key])

    return href


def drill_row(*, drill: Drill, style: Style) -> DrillRow:
    """One drill."""
    result = drill.result
    took = "given up" if result.get("given_up") else ""
    if "seconds" in result:
        took = duration_text(result["seconds"] / 60) if result["seconds"] >= 60 else f"{result['seconds']} s"
    return DrillRow(
        number=drill.number,
        target=f"{drill.target.partition('/')[2]}, {drill.target_name}",
        begun=style.when(drill.begun_at),
        by=drill.begun_by,
        is_running=drill.done_at is None,
        took=took,
        found=_percent(result, "records_percent"),
        reached=_percent(result, "reached_percent"),
        located=_percent(result, "located_percent"),
    )


def _percent(result: Any, name: str) -> str:
    return f"{result[name].removesuffix('.0')} %" if name in result else ""
