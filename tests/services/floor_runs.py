"""A published week on the floor, and a tablet that sends entries to its runs."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from production.domain.plan import Plan as PlanContent
from production.domain.plan import PlannedRun
from production.domain.records.course_content import Course
from production.models import Membership, Plan, PlanningWeek, RunRecord
from production.selectors.plans import plan_content
from production.selectors.run_records import run_live, run_subject
from production.services.floor import floor_take
from production.services.floor_answers import Answer
from production.services.publishing import plan_publish
from tests.conftest import Cast
from tests.kept import kept
from tests.lots import a_plan

RUN = "R05"  # poultry in the tall pot, with a second draw and a reduction


def published(cast: Cast, week: PlanningWeek) -> Plan:
    """The week's plan, published; it is worked out once for all tests."""
    plan = a_plan(cast, week)
    return kept(
        f"plan {plan.pk} published",
        lambda: plan_publish(by=cast.manager, plan=plan, seen_number=plan.number, confirm_stale=True),
    )


@dataclass
class Tablet:
    """A tablet in somebody's hands; minutes count from the planned start of the run it shows."""

    by: Membership
    week: PlanningWeek
    content: PlanContent
    code: str = RUN
    sent: int = 0
    name: str = "t"
    log: list[dict[str, Any]] = field(default_factory=list)

    @property
    def run(self) -> PlannedRun:
        return next(run for run in self.content.runs if run.code == self.code)

    @property
    def subject(self) -> str:
        return run_subject(starts_on=self.week.starts_on, code=self.code)

    def at(self, minute: float) -> datetime:
        return self.run.start_at + timedelta(minutes=minute)

    def entry(
        self, kind: str, minute: float, *, corrects: str = "", reason: str = "", **content: Any
    ) -> dict[str, Any]:
        """An entry as the browser sends it."""
        self.sent += 1
        made = {
            "key": f"{self.name}{self.sent}",
            "kind": kind,
            "subject": self.subject,
            "content": content,
            "happened_at": self.at(minute).isoformat(),
            "corrects": corrects or None,
            "reason": reason,
        }
        self.log.append(made)
        return made

    def post(self, *entries: dict[str, Any], minute: float) -> tuple[Answer, ...]:
        """Send entries at a time."""
        return floor_take(by=self.by, body={"entries": list(entries)}, now=self.at(minute)).answers

    def do(self, kind: str, minute: float, *, corrects: str = "", reason: str = "", **content: Any) -> Answer:
        """Record something and send it at once."""
        return self.post(self.entry(kind, minute, corrects=corrects, reason=reason, **content), minute=minute)[0]

    def course(self, minute: float) -> Course:
        """The run as its page shows it."""
        return run_live(by=self.by, starts_on=self.week.starts_on, code=self.code, now=self.at(minute)).course

    @property
    def record(self) -> RunRecord:
        return RunRecord.objects.get(week=self.week, code=self.code)

    def to_draw(self) -> None:
        """Begin, weigh, fill, boil, skim, add and draw off, all on time."""
        self.do("run_begun", 0, step="begin")
        self.do("charge_weighed", 5, step="charge.1", mass="15.6 kg")
        self.do("charge_weighed", 8, step="charge.2", mass="3.9 kg")
        self.do("filled", 20, step="fill")
        self.do("boil_reached", 90, step="boil")
        self.do("skimmed", 110, step="skim")
        self.do("temp_taken", 111, step="temp.1", temp="95 C")
        self.do("addition_made", 230, step="add.4", mass="1.95 kg")
        self.do("addition_made", 260, step="add.5")
        self.do("drawn", 305, step="draw.first", volume="26 L", temp="95 C")


def tablet_of(by: Membership, plan: Plan, code: str = RUN, name: str = "t") -> Tablet:
    """A tablet that shows a run of a published plan."""
    return Tablet(by=by, week=plan.week, content=plan_content(plan=plan), code=code, name=name)
