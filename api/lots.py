"""The forms of lots, stores, dispatches and saved bones."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.planning import MomentField
from api.serializers import LARGEST_COUNT, Out
from production.selectors.lots import lot_verdict

LOT_STATES = ("held", "free", "discarded")
LOT_VERDICTS = ("met", "breached", "not_shown")
LOT_STEPS = ("hold", "release", "discard", "count")
MOST_CONTAINERS = 10000


class KeyedBody(Out):
    key = serializers.RegexField(r"^[!-~]{1,70}$", help_text="chosen by the sender: sent again, done once")


class LotOut(Out):
    code = serializers.CharField()
    product = serializers.CharField(source="product.code")
    run = serializers.CharField(source="run.subject", default="")
    containers = serializers.IntegerField(help_text="as made")
    left = serializers.IntegerField()
    made_on = serializers.DateField(help_text="day 1: the day on which cooking ended")
    packed_at = serializers.DateTimeField()
    use_by = serializers.DateField(help_text="frozen: best before")
    store = serializers.CharField(source="store.code")
    allergens = serializers.ListField(child=serializers.CharField())
    status = serializers.ChoiceField(LOT_STATES)
    status_reason = serializers.CharField(allow_blank=True)
    verdict = serializers.SerializerMethodField()
    on_label = serializers.DictField(source="label", help_text="what its label says, as it was when packed")

    @extend_schema_field(serializers.ChoiceField(LOT_VERDICTS))
    def get_verdict(self, lot: Any) -> str:
        """The worst of its cooling logs."""
        return lot_verdict(lot)


class LotsQuery(Out):
    all_lots = serializers.BooleanField(default=False, help_text="also those of which nothing is left")


class LotBody(KeyedBody):
    """Containers of one draw, packed when its cooling logs are closed."""

    coolings = serializers.ListField(
        child=serializers.CharField(max_length=160), min_length=1, max_length=50, help_text="subjects of the logs"
    )
    product = serializers.CharField(max_length=40)
    containers = serializers.IntegerField(min_value=1, max_value=MOST_CONTAINERS)
    store = serializers.CharField(max_length=40)
    packed_at = MomentField()
    sealed_hot = serializers.BooleanField(default=False, help_text="packed hot without air: special rules hold")


class LotStepBody(KeyedBody):
    """What is done to a lot, with what the sender saw: hold and release need `seen`, discard and count `seen_left`."""

    step = serializers.ChoiceField(LOT_STEPS)
    reason = serializers.CharField(max_length=300)
    seen = serializers.ChoiceField(LOT_STATES, required=False)
    seen_left = serializers.IntegerField(min_value=0, max_value=LARGEST_COUNT, required=False)
    containers = serializers.IntegerField(
        min_value=0, max_value=MOST_CONTAINERS, required=False, help_text="discard: how many; count: how many are there"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        needed = ("seen",) if attrs["step"] in ("hold", "release") else ("seen_left", "containers")
        missing = [name for name in needed if name not in attrs]
        if missing:
            raise serializers.ValidationError(dict.fromkeys(missing, "This step needs it."))
        return attrs


class StoreDayOut(Out):
    day = serializers.DateField()
    litres = serializers.FloatField(help_text="room taken, at the fullest of the day")


class FreezingOut(Out):
    day = serializers.DateField()
    hours = serializers.FloatField(help_text="of all spare power for what goes in")


class StoreOut(Out):
    store = serializers.CharField(source="store.code")
    kind = serializers.CharField(source="store.kind")
    usable_l = serializers.FloatField()
    days = StoreDayOut(many=True)
    freezing = serializers.SerializerMethodField()

    @extend_schema_field(FreezingOut(many=True))
    def get_freezing(self, ahead: Any) -> list[dict[str, Any]]:
        """Freezers: hours of all spare power for what goes in on a day."""
        return [{"day": day.isoformat(), "hours": hours} for day, hours in ahead.freezing_h.items()]


class DispatchQuery(Out):
    day = serializers.DateField(help_text="in the kitchen's time zone")


class PickOut(Out):
    lot = serializers.CharField()
    containers = serializers.IntegerField()


class LeavingOut(Out):
    id = serializers.IntegerField()
    line = serializers.CharField()
    week = serializers.DateField()
    outlet = serializers.CharField()
    product = serializers.CharField()
    dispatch_at = serializers.DateTimeField()
    ordered = serializers.IntegerField()
    sent = serializers.IntegerField()
    short = serializers.IntegerField(help_text="containers that no free lot with life enough can serve")
    picks = PickOut(many=True, help_text="first expired first")


class LeavingsOut(Out):
    day = serializers.DateField()
    lines = LeavingOut(many=True)


class PickBody(Out):
    lot = serializers.CharField(max_length=20)
    containers = serializers.IntegerField(min_value=1, max_value=MOST_CONTAINERS)


class DispatchBody(KeyedBody):
    """What leaves for one order line: all of it or nothing is recorded."""

    id = serializers.IntegerField(min_value=1, max_value=LARGEST_COUNT, help_text="of the line, as listed")
    picks = PickBody(many=True)
    left_at = MomentField()


class DispatchedOut(Out):
    entries = serializers.ListField(child=serializers.IntegerField(), help_text="numbers in the book")


def mass() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=7, decimal_places=2)


class BonesOut(Out):
    code = serializers.CharField()
    ingredient = serializers.CharField(source="ingredient.code")
    mass_kg = mass()
    left_kg = mass()
    saved_on = serializers.DateField()
    use_by = serializers.DateField()
    store = serializers.CharField(source="store.code")


class BonesBody(KeyedBody):
    """Bones or trim put by; how long they keep follows from the store."""

    ingredient = serializers.CharField(max_length=40)
    mass_kg = mass()
    saved_on = serializers.DateField()
    store = serializers.CharField(max_length=40)
