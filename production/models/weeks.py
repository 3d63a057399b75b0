"""One planning week: who works, what is in stock, what is ordered."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from production.domain import kitchen as domain
from production.models.base import SameKitchen, WeekRow, limits, once
from production.models.catalogue import Ingredient, Outlet, Product
from production.models.kitchen import Kitchen, Person, Store


class PlanningWeek(SameKitchen):
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="weeks")
    starts_on = models.DateField()
    days = models.PositiveIntegerField()
    plan_from = models.DateTimeField()

    class Meta:
        ordering = ("-starts_on",)
        constraints = [
            once("planning_week", "kitchen", "starts_on"),
            models.CheckConstraint(condition=Q(days__gte=1, days__lte=14), name="planning_week_days_allowed"),
        ]

    def __str__(self) -> str:
        return f"{self.kitchen}, week from {self.starts_on}"


class Shift(WeekRow):
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    start = models.DateTimeField()
    end = models.DateTimeField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [
            once("shift", "week", "person", "start"),
            models.CheckConstraint(condition=Q(end__gt=F("start")), name="shift_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.start}"


class IceDelivery(WeekRow):
    code = models.CharField(max_length=40)
    at = models.DateTimeField()
    mass_kg = models.FloatField()

    class Meta:
        ordering = ("position", "pk")
        verbose_name_plural = "ice deliveries"
        constraints = [once("ice_delivery", "week", "code"), *limits(domain.IceDelivery, table="ice_delivery")]

    def __str__(self) -> str:
        return self.code


class StockLot(WeekRow):
    code = models.CharField(max_length=40)
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    containers = models.PositiveIntegerField()
    made_on = models.DateField()
    use_by = models.DateField()
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("position", "pk")
        constraints = [
            once("stock_lot", "week", "code"),
            *limits(domain.StockLot, table="stock_lot"),
            models.CheckConstraint(condition=Q(use_by__gte=F("made_on")), name="stock_lot_use_by_not_before_made"),
        ]

    def __str__(self) -> str:
        return self.code


class IngredientStock(WeekRow):
    code = models.CharField(max_length=40)
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="+")
    mass_kg = models.FloatField()
    use_by = models.DateField()

    class Meta:
        ordering = ("position", "pk")
        verbose_name_plural = "ingredient stock"
        constraints = [
            once("ingredient_stock", "week", "code"),
            *limits(domain.IngredientStock, table="ingredient_stock"),
        ]

    def __str__(self) -> str:
        return self.code


class SavedBones(WeekRow):
    code = models.CharField(max_length=40)
    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="+")
    mass_kg = models.FloatField()
    saved_on = models.DateField()
    use_by = models.DateField()

    class Meta:
        ordering = ("position", "pk")
        verbose_name_plural = "saved bones"
        constraints = [
            once("saved_bones", "week", "code"),
            *limits(domain.SavedBones, table="saved_bones"),
            models.CheckConstraint(condition=Q(use_by__gte=F("saved_on")), name="saved_bones_use_by_not_before_saved"),
        ]

    def __str__(self) -> str:
        return self.code


class OrderLine(WeekRow):
    """`revision` counts the changes, so that of two people who change a line the second is told."""

    code = models.CharField(max_length=40)
    outlet = models.ForeignKey(Outlet, on_delete=models.PROTECT, related_name="+")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    containers = models.PositiveIntegerField()
    dispatch_at = models.DateTimeField()
    weight = models.FloatField()
    revision = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("order_line", "week", "code"), *limits(domain.OrderLine, table="order_line")]

    def __str__(self) -> str:
        return self.code


class ParLevel(WeekRow):
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    containers = models.PositiveIntegerField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("par_level", "week", "product"), *limits(domain.ParLevel, table="par_level")]

    def __str__(self) -> str:
        return f"{self.product}: {self.containers}"
