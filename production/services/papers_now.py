"""Papers that are made when they are asked for: in a recall nobody waits for a worker."""

from __future__ import annotations

from datetime import date, datetime

from production.documents.render import Paper, render_document
from production.models import Membership
from production.selectors.hazard_plans import hazard_paper
from production.selectors.trace import trace_of


def trace_paper(
    *, by: Membership, key: str, now: datetime, since: date | None = None, until: date | None = None
) -> bytes:
    """The report of a trace, as the records are now."""
    report = trace_of(by=by, key=key, now=now, since=since, until=until)
    return render_document(report, paper=_paper(by)).pdf


def hazard_paper_pdf(*, by: Membership, formula: str, version: int) -> bytes:
    """An issue of a hazard plan, printed from its entry."""
    return render_document(hazard_paper(by=by, formula=formula, version=version), paper=_paper(by)).pdf


def _paper(by: Membership) -> Paper:
    return "letter" if by.kitchen.paper == "letter" else "a4"
