"""What comes in and how cold things are kept: deliveries, lots of ingredients, checks of thermometers, stores.

All rows but the kitchen's own limits are read off from entries and can be worked out again.
"""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from production.models.base import SameKitchen, once, words
from production.models.catalogue import Ingredient, Supplier
from production.models.kitchen import Kitchen, Store
from production.models.records import TEMP_UNITS, Entry, RunRecord, Thermometer

CHECK_METHODS = ("ice", "boiling", "reference")
CAME_AS = ("chilled", "frozen", "ambient")
MEASURED = ("air", "food")


class CareSettings(SameKitchen):
    """What the kitchen's plan asks of thermometers, deliveries and stores; without a row these defaults hold.

    Where the defaults come from is told in production.domain.records.
    """

    kitchen = models.OneToOneField(Kitchen, on_delete=models.PROTECT, related_name="care_settings")
    check_every_days = models.PositiveIntegerField(default=7)
    most_off_c = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal(1))  # Celsius or both scales
    most_off_f = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal(2))  # Fahrenheit only
    receive_chilled_c = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(5))
    receive_frozen_c = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(-15))
    store_chilled_c = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(5))
    store_frozen_c = models.DecimalField(max_digits=4, decimal_places=1, default=Decimal(-15))
    chilled_air_minutes = models.PositiveIntegerField(default=60)  # so long may the air be warmer
    frozen_air_minutes = models.PositiveIntegerField(default=60)
    store_every_hours = models.PositiveIntegerField(default=12)  # how often a store is read at least

    class Meta:
        verbose_name_plural = "care settings"
        constraints = [
            models.CheckConstraint(
                condition=Q(most_off_c__gt=0, most_off_c__lte=1, most_off_f__gt=0, most_off_f__lte=2),
                name="care_settings_no_wider_than_the_code",
            ),
            models.CheckConstraint(
                condition=Q(check_every_days__gte=1, check_every_days__lte=366, store_every_hours__gte=1),
                name="care_settings_intervals_allowed",
            ),
            models.CheckConstraint(
                condition=Q(chilled_air_minutes__lte=240, frozen_air_minutes__lte=240),
                name="care_settings_air_minutes_allowed",
            ),
            models.CheckConstraint(
                condition=Q(receive_chilled_c__lte=10, store_chilled_c__lte=10, receive_chilled_c__gte=-5)
                & Q(store_chilled_c__gte=-5, receive_frozen_c__lte=-5, store_frozen_c__lte=-5),
                name="care_settings_temperatures_allowed",
                violation_error_message="Chilled is −5 to 10 °C, frozen −5 °C or colder.",
            ),
        ]

    def __str__(self) -> str:
        return f"Care settings of {self.kitchen}"


class ThermometerCheck(SameKitchen):
    """A thermometer held against something that is known."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="thermometer_checks")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, related_name="checks")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="thermometer_check")
    checked_at = models.DateTimeField()
    method = models.CharField(max_length=12, choices=words(CHECK_METHODS))
    unit = models.CharField(max_length=1, choices=words(TEMP_UNITS))
    reference = models.CharField(max_length=12)  # decimal text, like all temperatures that were typed
    as_found = models.CharField(max_length=12)  # as shown, its correction added
    off = models.CharField(max_length=12)  # as found, less the reference
    allowed = models.CharField(max_length=12)
    passed = models.BooleanField()  # as found: what was read with it before may stand
    as_left = models.CharField(max_length=12, blank=True)  # after setting it right
    fit = models.BooleanField()  # as found or as left: it may be used from now on
    due_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ("checked_at", "pk")
        constraints = [
            models.CheckConstraint(condition=Q(method__in=list(CHECK_METHODS)), name="thermometer_check_method"),
            models.CheckConstraint(condition=Q(unit__in=list(TEMP_UNITS)), name="thermometer_check_unit"),
            models.CheckConstraint(
                condition=Q(fit=True, due_on__isnull=False) | Q(fit=False, due_on__isnull=True),
                name="thermometer_check_fit_has_due_day",
            ),
            models.CheckConstraint(condition=Q(passed=False) | Q(fit=True), name="thermometer_check_passed_is_fit"),
        ]
        indexes = [models.Index(fields=["thermometer", "checked_at"], name="check_by_time")]

    def __str__(self) -> str:
        return f"{self.thermometer}: {self.off} {self.unit}"


class Receipt(SameKitchen):
    """One ingredient of one lot of its supplier as it came in: taken, or sent back."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="receipts")
    code = models.CharField(max_length=20)
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="receipt")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="receipts")
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="receipts")
    received_at = models.DateTimeField()
    supplier_lot = models.CharField(max_length=60, blank=True)
    delivery_note = models.CharField(max_length=60, blank=True)
    purchase_list = models.CharField(max_length=120, blank=True)  # which list it was ordered by, if any
    packs = models.PositiveIntegerField()
    mass_kg = models.DecimalField(max_digits=8, decimal_places=2)
    came_as = models.CharField(max_length=8, choices=words(CAME_AS))
    temp = models.CharField(max_length=12, blank=True)  # decimal text as it was read; ambient goods have none
    unit = models.CharField(max_length=1, blank=True)
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    use_by = models.DateField(null=True, blank=True)
    accepted = models.BooleanField()
    in_limits = models.BooleanField()  # temperature, frozen hard, packs sound, in date
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("-received_at", "-pk")
        constraints = [
            once("receipt", "kitchen", "code"),
            models.CheckConstraint(condition=Q(mass_kg__gt=0, packs__gte=1), name="receipt_has_mass"),
            models.CheckConstraint(condition=Q(came_as__in=list(CAME_AS)), name="receipt_came_as_allowed"),
            models.CheckConstraint(
                condition=Q(accepted=True, in_limits=True) | ~Q(reason=""), name="receipt_otherwise_has_reason"
            ),
        ]
        indexes = [models.Index(fields=["kitchen", "received_at"], name="receipt_by_time")]

    def __str__(self) -> str:
        return self.code


class IngredientLot(SameKitchen):
    """What was taken in, until it is used; `left_kg` may fall below nothing where packs weigh more than they say."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="ingredient_lots")
    code = models.CharField(max_length=20)
    receipt = models.OneToOneField(Receipt, on_delete=models.PROTECT, related_name="lot")
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="lots")
    supplier_lot = models.CharField(max_length=60, blank=True)
    received_on = models.DateField()
    use_by = models.DateField(null=True, blank=True)
    store = models.ForeignKey(Store, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    mass_kg = models.DecimalField(max_digits=8, decimal_places=2)
    left_kg = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        ordering = ("received_on", "pk")
        constraints = [
            once("ingredient_lot", "kitchen", "code"),
            models.CheckConstraint(condition=Q(left_kg__lte=F("mass_kg")), name="ingredient_lot_never_more_than_came"),
        ]
        indexes = [models.Index(fields=["kitchen", "ingredient"], name="ingredient_lot_by_kind")]

    def __str__(self) -> str:
        return self.code


class IngredientUse(SameKitchen):
    """Kilograms of a lot that went into a run, or were thrown away."""

    class Kind(models.TextChoices):
        USED = "used"
        DISCARDED = "discarded"

    lot = models.ForeignKey(IngredientLot, on_delete=models.PROTECT, related_name="uses")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="ingredient_uses")
    run = models.ForeignKey(RunRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="ingredient_uses")
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.USED)
    mass_kg = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["used", "discarded"]), name="ingredient_use_kind_allowed"),
            models.CheckConstraint(
                condition=Q(kind="discarded") | Q(run__isnull=False), name="ingredient_use_names_its_run"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.kind} {self.mass_kg} kg"

    def owner_id(self) -> int | None:
        return self.lot.owner_id()


class StorageReading(SameKitchen):
    """How cold a store was: its air, or the food in it."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="storage_readings")
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="temperatures")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="storage_reading")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    measured_at = models.DateTimeField()
    measured = models.CharField(max_length=4, choices=words(MEASURED))
    temp = models.CharField(max_length=12)  # decimal text as it was read, corrected by the thermometer
    unit = models.CharField(max_length=1, choices=words(TEMP_UNITS))
    excluded = models.BooleanField(default=False)  # corrected or taken back

    class Meta:
        ordering = ("measured_at", "pk")
        constraints = [
            models.CheckConstraint(condition=Q(measured__in=list(MEASURED)), name="storage_reading_measured_allowed"),
            models.CheckConstraint(condition=Q(unit__in=list(TEMP_UNITS)), name="storage_reading_unit_allowed"),
        ]
        indexes = [models.Index(fields=["store", "measured_at"], name="storage_reading_by_time")]

    def __str__(self) -> str:
        return f"{self.store}: {self.temp} {self.unit}"
