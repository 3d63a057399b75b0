"""What a completed cooling log must state, element by element, with the rule that asks for it.

21 CFR 117.305 and 117.190, 21 CFR 11.50, 9 CFR 417.5 as published; the letters of their paragraphs are from memory.
"Common practice" has no source.
"""

from __future__ import annotations

import io
from zoneinfo import ZoneInfo

import pdfplumber
import pytest

from production.documents.render import render_document
from production.domain.sheets import CompletedCoolingLog
from production.models import PlanningWeek
from production.selectors.cooling_record import completed_log
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, opened, read, sent, take
from tests.services.review_kit import a_lot_of, after
from tests.services.test_reviews import PASSWORD, sign

ELEMENTS = (
    ("the place", "21 CFR 117.305(f): name and, where needed, location of the plant"),
    ("the product", "21 CFR 117.305(f); 9 CFR 417.5(a)(3)"),
    ("the lot", "21 CFR 117.305(f); 9 CFR 417.5(a)(3): product code or lot"),
    ("the vessels and how full they were", "common practice"),
    ("the way of cooling", "common practice; methods as in Food Code 3-501.15(A)"),
    ("the rule in force", "9 CFR 417.5(a)(2); 21 CFR 117.190: limits of the plan"),
    ("each critical limit with its verdict", "9 CFR 417.5(a)(3)"),
    ("the day", "21 CFR 117.305(f); 9 CFR 417.5(b)"),
    ("when the clock started", "9 CFR 417.5(a)(3): actual times"),
    ("each reading as it was", "21 CFR 117.305(b): actual values"),
    ("the time of each reading", "9 CFR 417.5(b): made when the event occurs, with date and time"),
    ("who took each reading", "21 CFR 117.305(f); 9 CFR 417.5(b): signature or initials"),
    ("the thermometer of each reading", "9 CFR 417.5(a)(3): calibration of process-monitoring instruments"),
    ("that a value was put right, the old one readable", "21 CFR 117.305(c): accurate, indelible, legible"),
    ("the verdict with its reasons", "common practice"),
    ("the corrective action", "21 CFR 117.190(a); 9 CFR 417.5(a)(3)"),
    ("the reviewer by name", "9 CFR 417.5(c); 21 CFR 11.50(a)(1)"),
    ("when it was reviewed", "9 CFR 417.5(c); 21 CFR 11.50(a)(2)"),
    ("what the signature means", "21 CFR 11.50(a)(3)"),
)


@pytest.fixture
def signed(cast: Cast, planning_week: PlanningWeek) -> CompletedCoolingLog:
    """A log with a lot, a corrective action, a reading set aside, closed and signed."""
    a_thermometer(cast.manager, correction="-0.2")
    cooling = opened(cast.cook, a_run(cast.manager, planning_week))
    for minute, temp in ((2, "80.2"), (25, "57.2"), (60, "35.2")):
        read(cast.cook, cooling, minute, temp, thermometer="t1")
    asked = read(cast.cook, cooling, 62, "0.4", thermometer="t1")
    set_aside = sent(
        "reading_excluded", cooling.subject, after(cooling, 64), {}, corrects=asked.key, reason="Probe in the ice"
    )
    take(cast.manager, set_aside, now=after(cooling, 64))
    act(cast.cook, cooling, "corrective_action", 67, {"what": "Lids taken off"}, reason="They were left on")
    for minute, temp in ((110, "21.1"), (300, "5.2")):
        read(cast.cook, cooling, minute, temp, thermometer="t1")
    act(cast.cook, cooling, "cooling_closed", 301, {})
    a_lot_of(cast, cooling)
    cast.inspector.user.first_name, cast.inspector.user.last_name = "Ines", "Okafor"
    cast.inspector.user.set_password(PASSWORD)
    cast.inspector.user.save()
    sign(cast.inspector, cooling)
    return completed_log(by=cast.cook, subject=cooling.subject)


def stated(log: CompletedCoolingLog, zone: ZoneInfo, kitchen: str) -> dict[str, list[str]]:
    """The words that stand for each element."""
    clock = [f"{each.measured_at.astimezone(zone):%H:%M}" for each in log.readings]
    reading = log.readings[0]
    return {
        "the place": [kitchen],
        "the product": [each.product for each in log.products],
        "the lot": list(log.lots),
        "the vessels and how full they were": [
            log.vessel,
            str(log.vessels),
            "depth",
            f"{log.depth_mm:.0f}",
            f"{log.fill_l:.0f}",
        ],
        "the way of cooling": [log.device, log.method],
        "the rule in force": [log.rule, log.rule_source],
        "each critical limit with its verdict": ["57 °C to 21 °C", "57 °C to 5 °C", "Limits met"],
        "the day": [f"{log.opened_at.astimezone(zone):%-d %B %Y}"],
        "when the clock started": [f"{log.readings[1].measured_at.astimezone(zone):%H:%M}"],
        "each reading as it was": [each.counted for each in log.readings] + [each.shown for each in log.readings[:1]],
        "the time of each reading": clock,
        "who took each reading": [reading.by],
        "the thermometer of each reading": [reading.thermometer],
        "that a value was put right, the old one readable": ["set aside:", "Probe in the ice"],
        "the verdict with its reasons": [log.stages[0].reasons[0][:40]],
        "the corrective action": ["Lids taken off"],
        "the reviewer by name": ["Ines Okafor"],
        "when it was reviewed": [f"{log.said[0].at.astimezone(zone):%H:%M}"],
        "what the signature means": ["I have reviewed this record."],
    }


def test_the_paper_states_every_element_that_the_rules_ask_for(cast: Cast, signed: CompletedCoolingLog) -> None:
    with pdfplumber.open(io.BytesIO(render_document(signed, paper="a4").pdf)) as pdf:
        words = " ".join(" ".join((page.extract_text() or "").split()) for page in pdf.pages)
    found = stated(signed, ZoneInfo(cast.kitchen.time_zone), cast.kitchen.name)
    assert found.keys() == {element for element, _ in ELEMENTS}
    assert all(found.values())
    missing = [(element, source, said) for element, source in ELEMENTS for said in found[element] if said not in words]
    assert missing == []
