"""The forms of planning again: what is asked of the planner, differences, fixes, moves."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from rest_framework import serializers

from api.serializers import LARGEST_COUNT, Out

ASK_KINDS = ("lock-run", "pot-out", "run-lost", "boil-at", "started-at")
EARLIEST, LATEST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


class MomentField(serializers.DateTimeField):
    """An instant within the centuries of this program."""

    def to_internal_value(self, value: Any) -> datetime:
        moment = super().to_internal_value(value)
        if not EARLIEST <= moment < LATEST:
            raise serializers.ValidationError("The time must lie between the years 2000 and 2200.")
        return moment


class SeenBody(Out):
    seen = serializers.IntegerField(
        min_value=0, max_value=LARGEST_COUNT, help_text="number of the newest plan that the person saw"
    )


class PublishBody(SeenBody):
    confirm_stale = serializers.BooleanField(
        default=False, help_text="publish although the week or what was asked has changed since"
    )


class AskBody(Out):
    """What is asked: its kind, and the fields of that kind."""

    plan = serializers.IntegerField(
        min_value=1, max_value=LARGEST_COUNT, help_text="number of the plan that it is said about"
    )
    kind = serializers.ChoiceField(ASK_KINDS)
    run = serializers.CharField(max_length=40, required=False, help_text="all kinds but pot-out")
    pot = serializers.CharField(max_length=40, required=False, help_text="pot-out; lock-run: stays in this pot")
    start_at = MomentField(required=False, help_text="started-at; lock-run: starts then")
    keep_size = serializers.BooleanField(required=False, help_text="lock-run: stays as large as it is")
    start = MomentField(required=False, help_text="pot-out")
    end = MomentField(required=False, help_text="pot-out")
    batch_lost = serializers.BooleanField(required=False, help_text="pot-out: what is in it at the start is lost")
    boil_at = MomentField(required=False, help_text="boil-at")
    reason = serializers.CharField(max_length=120, required=False, help_text="pot-out, run-lost")


class AskOut(Out):
    id = serializers.IntegerField()
    plan = serializers.IntegerField(source="plan.number")
    content = serializers.DictField(help_text="its kind and the fields of that kind")
    created_by = serializers.CharField(source="created_by.username", default="")
    created_at = serializers.DateTimeField()
    withdrawn_by = serializers.CharField(source="withdrawn_by.username", default="")
    withdrawn_at = serializers.DateTimeField(allow_null=True)


class AskQuery(Out):
    withdrawn_too = serializers.BooleanField(default=False, help_text="also what was withdrawn")


class MoveQuery(Out):
    pot = serializers.CharField(max_length=40)
    start_at = MomentField()


class MoveOut(Out):
    run = serializers.CharField()
    pot = serializers.CharField()
    start_at = serializers.DateTimeField()
    fits = serializers.BooleanField()
    sentences = serializers.ListField(
        child=serializers.CharField(), help_text="what stands against it; or what it changes"
    )
    lateness_before_h = serializers.FloatField(help_text="weighted hours of the whole plan")
    lateness_after_h = serializers.FloatField()
    end_at = serializers.DateTimeField(allow_null=True)


class DifferenceQuery(Out):
    before = serializers.IntegerField(min_value=1, max_value=LARGEST_COUNT, help_text="number of the plan before")


class ChangeOut(Out):
    kind = serializers.CharField()
    subject = serializers.CharField(help_text="code of the order line, the run or the ingredient")
    sentence = serializers.CharField()
    amount = serializers.FloatField(help_text="containers, minutes, litres or kg")


class TotalsOut(Out):
    runs = serializers.IntegerField()
    lateness_h = serializers.FloatField(help_text="weighted")
    late_lines = serializers.IntegerField()
    unserved_lines = serializers.IntegerField()
    unserved_containers = serializers.IntegerField()


class DifferenceOut(Out):
    sentence = serializers.CharField()
    kept_runs = serializers.IntegerField(help_text="stay in their pot at their start")
    moved_runs = serializers.IntegerField()
    before = TotalsOut()
    after = TotalsOut()
    changes = ChangeOut(many=True)


class FixOut(Out):
    kind = serializers.CharField()
    target = serializers.CharField()
    amount = serializers.FloatField()
    unit = serializers.CharField()
    at = serializers.DateTimeField(allow_null=True)
    sentence = serializers.CharField()
    effect_late_h = serializers.FloatField(help_text="so many weighted hours less late")
    effect_unserved = serializers.IntegerField(help_text="so many containers more are served")
    lines_helped = serializers.ListField(child=serializers.CharField())


class FixesOut(Out):
    """What was found to help; the place in the list, from 1, is the number by which a fix is applied."""

    fixes = FixOut(many=True)
    seconds = serializers.FloatField()
    asked_by = serializers.CharField()
    found_at = serializers.DateTimeField()
