"""When somebody is on site, as spans of minutes."""

from __future__ import annotations

from production.domain.schedule.problem import Problem

Span = tuple[int, int]


def staffed_spans(problem: Problem) -> tuple[Span, ...]:
    """Staffed time as spans that do not touch, in the order of time.

    Equation: the union of the windows with cooks on duty.
    Units: problem (record); returns [min].
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    spans: list[Span] = []
    for window in sorted(problem.cooks, key=lambda window: window.start_min):
        if window.amount <= 0:
            continue
        if spans and window.start_min <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], window.end_min))
        else:
            spans.append((window.start_min, window.end_min))
    return tuple(spans)


def closed_spans(problem: Problem) -> tuple[Span, ...]:
    """Time with nobody on site, from now to the end of the plan.

    Equation: what the staffed spans leave of [now, horizon].
    Units: problem (record); returns [min].
    Valid: any problem.
    Errors: none.
    Source: own definition.
    """
    closed: list[Span] = []
    since = problem.now_min
    for start, end in staffed_spans(problem):
        if since < start:
            closed.append((since, min(start, problem.horizon_min)))
        since = max(since, end)
    if since < problem.horizon_min:
        closed.append((since, problem.horizon_min))
    return tuple((start, end) for start, end in closed if start < end)
