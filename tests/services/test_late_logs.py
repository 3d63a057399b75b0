"""The sweeper finds logs that nobody has closed."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import call_command

from production.domain.limits import rule
from production.models import CoolingRecord, Deviation, Entry, PlanningWeek
from production.selectors.record_check import book_check
from production.services.late_logs import late_logs_find, whole_time_min
from tests.conftest import Cast
from tests.services.cooling_kit import GOOD, a_run, act, opened, read_all
from tests.services.review_kit import after


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    return opened(cast.cook, a_run(cast.manager, planning_week))


def test_a_log_is_late_two_hours_after_its_last_limit_and_found_once(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling, GOOD[:3])  # the clock has started at minute 25 at the latest, at 2 at the earliest
    assert late_logs_find(now=after(cooling, 300)) == 0
    late = after(cooling, 25 + 360 + 121)
    assert late_logs_find(now=late) == 1
    assert late_logs_find(now=late + timedelta(hours=1)) == 0
    found = Deviation.objects.get()
    assert (found.kind, found.cooling, found.state) == ("late_log", cooling, "open")
    entry = Entry.objects.get(kind="deviation_opened")
    assert (entry.by, entry.by_login, entry.role) == (None, "potwright", "program")
    told = book_check(kitchen=cast.kitchen).findings
    assert [each for each in told if "never begun" not in each.sentence] == []


def test_a_log_that_nobody_has_read_is_late_after_the_whole_time_of_its_rule(cooling: CoolingRecord) -> None:
    assert late_logs_find(now=after(cooling, 360 + 119)) == 0
    assert late_logs_find(now=after(cooling, 360 + 120)) == 1


def test_a_log_that_shows_all_but_was_not_closed_is_late_too(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling)
    assert late_logs_find(now=after(cooling, 360)) == 0
    assert late_logs_find(now=after(cooling, 25 + 360 + 121)) == 1


def test_a_closed_log_is_not_late(cast: Cast, cooling: CoolingRecord) -> None:
    read_all(cast.cook, cooling)
    act(cast.cook, cooling, "cooling_closed", 301, {})
    assert late_logs_find(now=after(cooling, 5000)) == 0


@pytest.mark.parametrize(
    ("code", "minutes"), [("FDA_A_C", 360), ("US_MD_SCHED", 360), ("FSIS_B_OPT1", 390), ("FDA_B", 240)]
)
def test_the_whole_time_of_a_rule_adds_up_stages_that_follow_each_other(code: str, minutes: int) -> None:
    """FDA Food Code 3-501.14, COMAR 10.15.03.11 and FSIS Appendix B, as read for the rules."""
    assert whole_time_min(rule(code)) == minutes


def test_the_sweeper_looks_for_late_logs(cooling: CoolingRecord) -> None:
    out = StringIO()
    with time_machine.travel(after(cooling, 600)):
        call_command("tick", "--once", stdout=out)
    assert "Late logs found: 1" in out.getvalue()
