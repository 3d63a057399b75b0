"""The forms of thermometers, deliveries and store temperatures."""

from __future__ import annotations

from rest_framework import serializers

from api.lots import KeyedBody
from api.planning import MomentField
from api.serializers import Out, PageQuery
from production.services.receipts import LEAST_KG, MOST_KG, MOST_PACKS

UNITS = ("C", "F")
CAME_AS = ("chilled", "frozen", "ambient")
EXCURSIONS = ("over", "possible", "brief")
MEASURED = ("air", "food")
STORE_KINDS = ("chilled", "frozen")


class ThermometerOut(Out):
    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.ChoiceField(("hand", "probe"))
    unit = serializers.ChoiceField(UNITS)
    both_scales = serializers.BooleanField(help_text="shows the other scale too: the narrower tolerance holds")
    correction = serializers.DecimalField(max_digits=None, decimal_places=2, help_text="added to what it shows")
    check_due_on = serializers.DateField(allow_null=True, help_text="none: no good check")
    is_overdue = serializers.BooleanField()
    stands_in = serializers.CharField(allow_blank=True, help_text="subject of the cooling in which a probe stands")


class ReceiptOut(Out):
    code = serializers.CharField()
    supplier = serializers.CharField(source="supplier.code")
    ingredient = serializers.CharField(source="ingredient.code")
    received_at = serializers.DateTimeField()
    supplier_lot = serializers.CharField(allow_blank=True)
    delivery_note = serializers.CharField(allow_blank=True)
    packs = serializers.IntegerField()
    mass_kg = serializers.DecimalField(max_digits=None, decimal_places=2)
    came_as = serializers.ChoiceField(CAME_AS)
    temp = serializers.CharField(allow_blank=True, help_text="decimal text, corrected by the thermometer")
    unit = serializers.ChoiceField(UNITS, allow_blank=True)
    use_by = serializers.DateField(allow_null=True)
    accepted = serializers.BooleanField()
    in_limits = serializers.BooleanField()
    reason = serializers.CharField(allow_blank=True)
    lot = serializers.CharField(
        source="lot.code", allow_null=True, help_text="names it in weighings; none: it went back"
    )
    left_kg = serializers.DecimalField(source="lot.left_kg", allow_null=True, max_digits=None, decimal_places=2)


class ReceiptsQuery(PageQuery):
    find = serializers.CharField(max_length=100, default="", allow_blank=True, help_text="code, supplier, lot …")


class ReceiptBody(KeyedBody):
    """One ingredient of a delivery, taken in or sent back."""

    supplier = serializers.CharField(max_length=40)
    ingredient = serializers.CharField(max_length=40)
    packs = serializers.IntegerField(min_value=1, max_value=MOST_PACKS)
    mass_kg = serializers.DecimalField(max_digits=8, decimal_places=2, min_value=LEAST_KG, max_value=MOST_KG)
    came_as = serializers.ChoiceField(CAME_AS)
    temp = serializers.CharField(max_length=20, default="", allow_blank=True, help_text='as shown: "3.4" or "38 F"')
    thermometer = serializers.CharField(max_length=40, default="", allow_blank=True)
    frozen_hard = serializers.BooleanField(default=False)
    packs_sound = serializers.BooleanField(help_text="closed, dry and clean")
    supplier_lot = serializers.CharField(max_length=60, default="", allow_blank=True)
    delivery_note = serializers.CharField(max_length=60, default="", allow_blank=True)
    use_by = serializers.DateField(default=None, allow_null=True)
    store = serializers.CharField(max_length=40, default="", allow_blank=True)
    received_at = MomentField()
    accept = serializers.BooleanField(help_text="false: it goes back")
    reason = serializers.CharField(max_length=300, default="", allow_blank=True)


class StoreReadingOut(Out):
    at = serializers.DateTimeField(source="reading.at")
    temp = serializers.DecimalField(source="reading.temp", max_digits=None, decimal_places=None)
    unit = serializers.ChoiceField(UNITS, source="reading.unit")
    measured = serializers.ChoiceField(MEASURED)
    entry = serializers.IntegerField(source="number", help_text="number in the book")


class ExcursionOut(Out):
    """A time in which a store was too warm."""

    measured = serializers.ChoiceField(MEASURED)
    state = serializers.ChoiceField(
        EXCURSIONS, help_text="over: for too long, surely; possible: readings leave it open"
    )
    good_before = serializers.DateTimeField(allow_null=True)
    first = StoreReadingOut()
    warmest = StoreReadingOut()
    good_after = serializers.DateTimeField(allow_null=True, help_text="none: not over yet")
    shown_s = serializers.IntegerField(help_text="so long surely")
    longest_s = serializers.IntegerField(help_text="so long at most, as far as readings show")


class StoreTempsOut(Out):
    store = serializers.CharField(source="store.code")
    kind = serializers.ChoiceField(STORE_KINDS, source="limit.kind")
    most_c = serializers.DecimalField(source="limit.most_c", max_digits=None, decimal_places=1)
    is_overdue = serializers.BooleanField(help_text="nobody has read it for longer than the kitchen allows")
    last = StoreReadingOut(allow_null=True)
    excursions = ExcursionOut(many=True, help_text="of the last seven days")
