"""The dispatch note: what leaves for one outlet at one time, with the lots, for the driver and for the outlet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from production.documents.words import Clock, joined

if TYPE_CHECKING:
    from production.domain.sheets import DispatchNote
    from production.domain.sheets.content import NoteLine


def dispatch_note_view(note: DispatchNote) -> dict[str, object]:
    """Everything the template needs, in the kitchen's time."""
    clock = Clock.spanning(note.heading.time_zone, note.dispatch_at, note.dispatch_at)
    return {
        "title": f"Dispatch note: {note.outlet}, {clock.moment(note.dispatch_at)}",
        "note": note,
        "heading": note.heading,
        "leaves": clock.moment(note.dispatch_at),
        "issue": f"version {note.heading.version}",
        "lines": [_line(each) for each in note.lines],
    }


def _line(line: NoteLine) -> dict[str, object]:
    sent = sum(each.containers for each in line.lots)
    return {
        "product": line.product,
        "container": line.container,
        "ordered": line.ordered,
        "sent": sent,
        "short": line.ordered - sent,
        "allergens": joined(line.allergens),
        "keep": "" if line.keep_temp is None else f"{line.keep_temp:f} °{line.keep_unit} or colder".replace("-", "−"),
        "lots": [
            {
                "code": each.lot,
                "containers": each.containers,
                "life": f"{'best before' if each.frozen else 'use by'} {each.use_by.day} {each.use_by:%b %Y}",
            }
            for each in line.lots
        ],
    }
