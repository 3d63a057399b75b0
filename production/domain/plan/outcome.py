"""What becomes of the order lines: those that cannot be served, and those that leave late."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from datetime import timedelta

from production.domain.batches import Batch, Unmakeable
from production.domain.demand import PAR_PREFIX
from production.domain.plan.content import LateLine, Unserved
from production.domain.plan.frame import Frame
from production.domain.schedule.result import Schedule, Unplaced


def unserved_of(
    batches: Mapping[str, Batch],
    unmakeable: Iterable[Unmakeable],
    refused: Iterable[Unserved],
    schedule: Schedule,
) -> Iterable[Unserved]:
    """Every line that cannot be served, with the reason; par levels are wishes and not counted.

    Equation: needs that no run can serve, then lines of runs that can never run, then of runs without a place.
    Units: batches by code, unmakeable, refused, schedule (records); returns records.
    Valid: batches of the schedule.
    Errors: none.
    Source: own definition.
    """
    for need in unmakeable:
        if not need.line.startswith(PAR_PREFIX):
            yield Unserved(**{each.name: getattr(need, each.name) for each in fields(Unserved)})
    yield from refused
    for out in schedule.unplaced:
        yield from for_lines(batches[out.job], _reason(out))


def for_lines(batch: Batch, reason: Unserved) -> Iterable[Unserved]:
    """The reason why a run is not made, for each order line that it was to serve.

    Equation: one entry for each peg that is no par level.
    Units: no quantities; batch, reason (records); returns records.
    Valid: any batch.
    Errors: none.
    Source: own definition.
    """
    for portion in batch.portions:
        for peg in portion.pegs:
            if not peg.line.startswith(PAR_PREFIX):
                yield replace(reason, line=peg.line, product=portion.product, containers=peg.containers)


def _reason(out: Unplaced) -> Unserved:
    return Unserved(
        line="",
        product="",
        containers=0,
        resource=out.resource,
        missing=out.missing,
        unit=out.unit,
        sentence=out.sentence,
        remedy=out.remedy,
    )


def late_of(frame: Frame, schedule: Schedule) -> Iterable[LateLine]:
    """Order lines that leave late, with what holds them.

    Equation: ready = dispatch + how far the schedule is behind; par levels do not count.
    Units: frame, schedule (records; [min]); returns instants.
    Valid: schedules of the frame's week.
    Errors: none.
    Source: own definition.
    """
    lines = {line.code: line for line in frame.week.order_lines}
    for late in schedule.late:
        if late.label in lines:
            due = lines[late.label].dispatch_at
            behind = timedelta(minutes=late.ready_min - late.due_min)
            yield LateLine(
                line=late.label,
                run=late.job,
                due_at=due,
                ready_at=due + behind,
                resource=late.resource,
                sentence=late.sentence,
                missing=late.missing,
                unit=late.unit,
            )
