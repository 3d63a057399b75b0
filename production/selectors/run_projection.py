"""Rows of runs, held against the entries that they were read off from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from production.domain.ledger import Finding
from production.domain.records.course_content import Noted
from production.domain.records.course_state import WITHDRAWN, records_of
from production.models import Entry, RunRecord
from production.selectors.run_records import noted_of

AT_ONCE = 2000
_KINDS = ("run_begun", "run_finished", "run_broken_off", WITHDRAWN)


@dataclass(frozen=True, slots=True)
class _Said:
    """A run as its entries tell it."""

    number: int  # the entry that spoke last
    state: str
    begun_at: datetime | None
    ended_at: datetime | None


def runs_check(kitchen_id: int) -> Iterator[Finding]:
    """Each run is under way, closed or broken off, since when, as its entries say."""
    said = {subject: _said(notes) for subject, notes in _notes(kitchen_id).items()}
    rows = RunRecord.objects.filter(kitchen_id=kitchen_id).order_by("pk")
    for subject, state, begun_at, ended_at in rows.values_list("subject", "state", "begun_at", "ended_at"):
        told = said.pop(subject, None)
        if told is None:
            yield Finding(1, 1, f"The run {subject} is shown, but it was never begun.")
        elif (state, begun_at, ended_at) != (told.state, told.begun_at, told.ended_at):
            yield Finding(
                told.number,
                told.number,
                f"The run {subject} is shown as {state}, {begun_at} to {ended_at}; written down is {told.state}, "
                f"{told.begun_at} to {told.ended_at}.",
            )
    for subject, told in said.items():
        yield Finding(told.number, told.number, f"The run {subject} is missing.")


def _notes(kitchen_id: int) -> dict[str, list[Noted]]:
    entries = Entry.objects.filter(kitchen_id=kitchen_id, subject__startswith="run/", kind__in=_KINDS)
    found: dict[str, list[Noted]] = {}
    for entry in entries.select_related("corrects").order_by("number").iterator(chunk_size=AT_ONCE):
        found.setdefault(entry.subject, []).append(noted_of(entry))
    return found


def _said(notes: list[Noted]) -> _Said:
    living = records_of((), notes).others
    begun = [note.happened_at for note in living if note.kind == "run_begun"]
    broken = [note.happened_at for note in living if note.kind == "run_broken_off"]
    finished = [note.happened_at for note in living if note.kind == "run_finished"]
    state = "broken_off" if broken else "finished" if finished else "under_way"
    ended_at = min(broken or finished, default=None)
    return _Said(notes[-1].number, state, min(begun, default=None), ended_at)
