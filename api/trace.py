"""The forms of traces and hazard plans."""

from __future__ import annotations

from rest_framework import serializers

from api.serializers import Out
from production.domain.records.trace import Kind

KINDS = tuple(kind.value for kind in Kind)
KEYS = "lot/, run/, ingredient/, bones/, supplier/, outlet/ or order/ and the code, as listed here and in the records"


def amount() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=14, decimal_places=2)


class TraceQuery(Out):
    of = serializers.RegexField(r"^[a-z]{3,12}/[ -~]{1,150}$", help_text=KEYS)
    since = serializers.DateField(required=False, help_text="suppliers and outlets: from this day")
    until = serializers.DateField(required=False, help_text="suppliers and outlets: up to this day")


class KnotOut(Out):
    key = serializers.CharField()
    kind = serializers.ChoiceField(KINDS, source="kind.value")
    code = serializers.CharField()
    name = serializers.CharField()
    detail = serializers.CharField(allow_blank=True)
    contact = serializers.CharField(allow_blank=True)


class WayOut(Out):
    from_key = serializers.CharField(source="source")
    to_key = serializers.CharField(source="target")
    amount = serializers.DecimalField(max_digits=14, decimal_places=2, allow_null=True, help_text="none: not measured")
    unit = serializers.CharField(allow_blank=True, help_text="kg or containers")


class BalanceOut(Out):
    key = serializers.CharField()
    unit = serializers.CharField()
    made = amount()
    shipped = amount()
    discarded = amount()
    stock = amount()
    unexplained = amount()


class TraceOut(Out):
    """The thread of one thing: all that led to it, and all that came of it."""

    made_at = serializers.DateTimeField()
    start = KnotOut()
    since = serializers.DateField(allow_null=True)
    until = serializers.DateField(allow_null=True)
    knots = KnotOut(many=True)
    ways = WayOut(many=True)
    lots = BalanceOut(many=True)
    ingredient_lots = BalanceOut(many=True)
    found_percent = serializers.DecimalField(max_digits=6, decimal_places=1)
    gaps = serializers.ListField(child=serializers.CharField(), help_text="what the records do not show, in sentences")


class HazardPlanOut(Out):
    """How the plan of one formula stands."""

    formula = serializers.CharField(source="now.formula_code")
    name = serializers.CharField(source="now.formula")
    rule = serializers.CharField(source="now.rule")
    is_out_of_date = serializers.BooleanField()
    newest_version = serializers.IntegerField(source="newest.version", default=None, allow_null=True)
    version_in_force = serializers.IntegerField(source="in_force.version", default=None, allow_null=True)
