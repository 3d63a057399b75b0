"""What is cooked, from what, and from whom it is bought."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from production.domain import kitchen as domain
from production.models.base import KitchenRow, PartRow, WordsOf, limits, once, words
from production.models.kitchen import Container, CubeTray

MONEY_DIGITS = 11
MONEY_PLACES = 2


class Ingredient(KitchenRow):
    name = models.CharField(max_length=120)
    material = models.CharField(max_length=120)
    roles = models.JSONField(default=list, blank=True, validators=[WordsOf(domain.SOLID_ROLES)])
    charge_temp_c = models.FloatField()
    trim_yield_share = models.FloatField()
    allergens = models.JSONField(default=list, blank=True, validators=[WordsOf(domain.ALLERGENS)])

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("ingredient", "kitchen", "code"), *limits(domain.Ingredient, table="ingredient")]


class Formula(KitchenRow):
    """One version of a formula. Its content never changes; a new version retires the one before."""

    version = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    water_kg_per_kg_solids = models.FloatField()
    simmer_below_boil_k = models.FloatField()
    lid = models.CharField(max_length=120, choices=words(domain.LIDS))
    simmer_min_h = models.FloatField()
    simmer_max_h = models.FloatField()
    salt_share = models.FloatField()
    second_draw_refill_share = models.FloatField(null=True, blank=True)
    second_draw_simmer_min_h = models.FloatField(null=True, blank=True)
    second_draw_simmer_max_h = models.FloatField(null=True, blank=True)
    reduction_bx = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ("position", "pk")
        constraints = [
            once("formula", "kitchen", "code", "version"),
            models.UniqueConstraint(
                fields=["kitchen", "code"], condition=Q(retired=False), name="formula_one_version_in_use"
            ),
            *limits(domain.Formula, table="formula"),
            *limits(domain.SecondDraw, table="formula", prefix="second_draw_"),
            models.CheckConstraint(
                condition=Q(
                    second_draw_refill_share__isnull=True,
                    second_draw_simmer_min_h__isnull=True,
                    second_draw_simmer_max_h__isnull=True,
                )
                | Q(
                    second_draw_refill_share__isnull=False,
                    second_draw_simmer_min_h__isnull=False,
                    second_draw_simmer_max_h__isnull=False,
                ),
                name="formula_second_draw_whole_or_not",
            ),
            models.CheckConstraint(
                condition=Q(simmer_max_h__gte=F("simmer_min_h")), name="formula_simmer_window_not_reversed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, version {self.version}"


class Solid(PartRow):
    formula = models.ForeignKey(Formula, on_delete=models.CASCADE, related_name="solids")
    role = models.CharField(max_length=120, choices=words(domain.SOLID_ROLES))
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="+")
    share = models.FloatField()

    class Meta(PartRow.Meta):
        constraints = limits(domain.Solid, table="solid")

    def __str__(self) -> str:
        return f"{self.ingredient} as {self.role}"


class Addition(PartRow):
    formula = models.ForeignKey(Formula, on_delete=models.CASCADE, related_name="additions")
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=120, choices=words(domain.ADDITION_KINDS))
    kg_per_kg_solids = models.FloatField()
    minutes_before_end = models.PositiveIntegerField()
    cook_minutes = models.PositiveIntegerField()

    class Meta(PartRow.Meta):
        constraints = limits(domain.Addition, table="addition")

    def __str__(self) -> str:
        return f"{self.ingredient}, {self.minutes_before_end} min before the end"


class Product(KitchenRow):
    name = models.CharField(max_length=120)
    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="products")
    kind = models.CharField(max_length=120, choices=words(domain.PRODUCT_KINDS))
    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    net_l = models.FloatField()
    storage = models.CharField(max_length=120, choices=words(domain.STORAGE_KINDS))
    shelf_life_days = models.PositiveIntegerField()
    life_at_dispatch_days = models.PositiveIntegerField()
    value = models.DecimalField(max_digits=MONEY_DIGITS, decimal_places=MONEY_PLACES)
    cube_tray = models.ForeignKey(CubeTray, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    cubes_per_container = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("product", "kitchen", "code"), *limits(domain.Product, table="product")]


class Supplier(KitchenRow):
    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=120)
    order_by = models.TimeField()
    lead_days = models.PositiveIntegerField()
    delivers_on = models.JSONField(default=list, validators=[WordsOf(range(1, 8))])
    delivers_at = models.TimeField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("supplier", "kitchen", "code"), *limits(domain.Supplier, table="supplier")]


class Offer(KitchenRow):
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="offers")
    pack_kg = models.FloatField()
    price = models.DecimalField(max_digits=MONEY_DIGITS, decimal_places=MONEY_PLACES)

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("offer", "kitchen", "code"), *limits(domain.Offer, table="offer")]


class Outlet(KitchenRow):
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=40)
    contact = models.CharField(max_length=120)
    same_business = models.BooleanField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("outlet", "kitchen", "code")]
