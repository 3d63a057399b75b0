"""What labels need to know beyond the catalogue, and the kitchen's bank of saved bones and trim.

Rows of the bank are read off from entries, like lots; a row is never deleted.
"""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from production.domain.identifiers import gs1_number_is_valid
from production.models.base import SameKitchen, once, words
from production.models.catalogue import Ingredient, Product
from production.models.kitchen import Kitchen, Store
from production.models.records import Entry

LABEL_LAWS = ("eu", "us", "both")


def refuse_bad_gtin(number: str) -> None:
    """Refuse a number whose check digit is wrong, or that is no article number."""
    if len(number) not in (8, 12, 13, 14) or not gs1_number_is_valid(number):
        raise ValidationError("This is no article number (GTIN): its length or its check digit is wrong.", code="gtin")


class LotSettings(SameKitchen):
    """How a kitchen labels its lots and dates its saved bones; without a row the defaults hold."""

    kitchen = models.OneToOneField(Kitchen, on_delete=models.PROTECT, related_name="lot_settings")
    label_law = models.CharField(max_length=4, choices=words(LABEL_LAWS))
    bones_chilled_days = models.PositiveIntegerField(default=2)  # day 1 is the day they were saved
    bones_frozen_days = models.PositiveIntegerField(default=90)

    class Meta:
        verbose_name_plural = "lot settings"
        constraints = [
            models.CheckConstraint(condition=Q(label_law__in=list(LABEL_LAWS)), name="lot_settings_label_law_allowed"),
            models.CheckConstraint(
                condition=Q(bones_chilled_days__gte=1, bones_chilled_days__lte=7, bones_frozen_days__gte=1),
                name="lot_settings_bones_days_allowed",
            ),
        ]

    def __str__(self) -> str:
        return f"Lot settings of {self.kitchen}"


class ProductLabel(SameKitchen):
    """What is set up for a product's label."""

    product = models.OneToOneField(Product, on_delete=models.PROTECT, related_name="label")
    gtin = models.CharField(max_length=14, blank=True, validators=[refuse_bad_gtin])

    def __str__(self) -> str:
        return f"Label of {self.product}"

    def owner_id(self) -> int | None:
        return self.product.owner_id()


class Bones(SameKitchen):
    """Bones or trim put by for a later charge, ready for the pot."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="bones")
    code = models.CharField(max_length=20)
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="+")
    mass_kg = models.DecimalField(max_digits=7, decimal_places=2)  # as put by
    left_kg = models.DecimalField(max_digits=7, decimal_places=2)
    saved_on = models.DateField()  # day 1
    use_by = models.DateField()
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("use_by", "code")
        verbose_name_plural = "bones"
        constraints = [
            once("bones", "kitchen", "code"),
            models.CheckConstraint(
                condition=Q(left_kg__gte=0, left_kg__lte=F("mass_kg"), mass_kg__gt=0),
                name="bones_never_more_than_saved",
            ),
            models.CheckConstraint(condition=Q(use_by__gte=F("saved_on")), name="bones_use_by_not_before_saved"),
        ]

    def __str__(self) -> str:
        return self.code


class BonesMove(SameKitchen):
    """Kilograms that left the bank."""

    class Kind(models.TextChoices):
        USED = "used"
        DISCARDED = "discarded"

    bones = models.ForeignKey(Bones, on_delete=models.PROTECT, related_name="moves")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="bones_moves")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    mass_kg = models.DecimalField(max_digits=7, decimal_places=2)
    run_subject = models.CharField(max_length=160, blank=True)  # used: run/<first day of the week>/<code>

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["used", "discarded"]), name="bones_move_kind_allowed"),
            models.CheckConstraint(condition=Q(mass_kg__gt=0), name="bones_move_has_mass"),
        ]

    def __str__(self) -> str:
        return f"{self.bones}: {self.kind} {self.mass_kg} kg"

    def owner_id(self) -> int | None:
        return self.bones.owner_id()
