"""Packages that were asked for, as the page lists them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from production.selectors.exports import Export
    from production.web.style import Style

_STATES = {
    "queued": "waits for its turn",
    "running": "is being packed",
    "done": "ready",
    "failed": "failed",
    "cancelled": "cancelled",
}


@dataclass(frozen=True, slots=True)
class ExportRow:
    """One package."""

    job_id: int
    days: str
    asked: str
    who: str
    state: str
    what: str
    size: str
    waiting: bool
    ready: bool
    sha256: str


def export_rows(exports: Iterable[Export], *, style: Style) -> tuple[ExportRow, ...]:
    """The newest first."""
    return tuple(_row(each, style) for each in exports)


def _row(export: Export, style: Style) -> ExportRow:
    job, made = export.job, export.job.result or {}
    first, last = (date.fromisoformat(job.payload[name]) for name in ("first_day", "last_day"))
    who = job.requested_by
    gone = job.state == "done" and not export.is_there
    return ExportRow(
        job_id=job.pk,
        days=f"{first:%a} {first.day} {first:%b %Y} to {last:%a} {last.day} {last:%b %Y}",
        asked=style.when(job.created_at),
        who="" if who is None else who.get_full_name() or who.get_username(),
        state="no longer kept; ask for it again" if gone else job.error_sentence or _STATES[job.state],
        what=f"{made['records']} of {made['entries']} records, {made['logs']} logs, {made['runs']} runs"
        if made
        else "",
        size=f"{made['bytes'] / 1e6:.1f} MB" if made else "",
        waiting=job.state in ("queued", "running"),
        ready=job.state == "done" and not gone,
        sha256=str(made.get("sha256", "")),
    )
