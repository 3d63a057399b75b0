"""The kitchen and its equipment, stores and people."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from production.domain import kitchen as domain
from production.models.base import KitchenRow, PartRow, SameKitchen, limits, once, words


class Kitchen(SameKitchen):
    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=120)
    altitude_m = models.FloatField()
    units = models.CharField(max_length=120, choices=words(domain.UNITS))
    paper = models.CharField(max_length=120, choices=words(domain.PAPERS))
    currency = models.CharField(max_length=3)
    cooling_rule = models.CharField(max_length=120)
    room_temp_c = models.FloatField()
    mains_water_c = models.FloatField()
    unattended_simmer = models.BooleanField()
    hot_hold_max_h = models.FloatField()
    tasks_load_min = models.FloatField()
    tasks_skim_min = models.FloatField()
    tasks_draw_base_min = models.FloatField()
    tasks_draw_min_per_l = models.FloatField()
    tasks_refill_min = models.FloatField()
    tasks_finish_min = models.FloatField()
    tasks_portion_base_min = models.FloatField()
    tasks_portion_min_per_l = models.FloatField()
    tasks_wash_min = models.FloatField()
    tasks_soak_min = models.FloatField()

    class Meta:
        ordering = ("name", "pk")
        constraints = [
            *limits(domain.Kitchen, table="kitchen"),
            *limits(domain.TaskMinutes, table="kitchen", prefix="tasks_"),
        ]

    def __str__(self) -> str:
        return self.name

    def owner_id(self) -> int | None:
        return self.pk


class HeatSupply(KitchenRow):
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=120, choices=words(domain.SUPPLY_KINDS))
    capacity_kw = models.FloatField()

    class Meta:
        ordering = ("position", "pk")
        verbose_name_plural = "heat supplies"
        constraints = [once("heat_supply", "kitchen", "code"), *limits(domain.HeatSupply, table="heat_supply")]


class HeatSource(KitchenRow):
    name = models.CharField(max_length=120)
    supply = models.ForeignKey(HeatSupply, on_delete=models.PROTECT, related_name="sources")
    appliance = models.CharField(max_length=120, choices=words(domain.APPLIANCES))
    input_kw = models.FloatField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("heat_source", "kitchen", "code"), *limits(domain.HeatSource, table="heat_source")]


class Pot(KitchenRow):
    name = models.CharField(max_length=120)
    material = models.CharField(max_length=120, choices=words(domain.POT_MATERIALS))
    inner_diameter_mm = models.FloatField()
    inner_height_mm = models.FloatField()
    mass_kg = models.FloatField()
    heat_source = models.ForeignKey(HeatSource, on_delete=models.PROTECT, related_name="pots")
    min_fill_share = models.FloatField()
    reduction_pan = models.BooleanField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("pot", "kitchen", "code"), *limits(domain.Pot, table="pot")]


class PotFormula(PartRow):
    """A formula that the pot may be used for; a pot without any may be used for all."""

    pot = models.ForeignKey(Pot, on_delete=models.CASCADE, related_name="formulas")
    formula = models.ForeignKey("production.Formula", on_delete=models.PROTECT, related_name="+")

    class Meta(PartRow.Meta):
        constraints = [once("pot_formula", "pot", "formula")]

    def __str__(self) -> str:
        return f"{self.pot}: {self.formula}"


class Outage(PartRow):
    pot = models.ForeignKey(Pot, on_delete=models.CASCADE, related_name="outages")
    start = models.DateTimeField()
    end = models.DateTimeField()
    reason = models.CharField(max_length=120)

    class Meta(PartRow.Meta):
        constraints = [models.CheckConstraint(condition=Q(end__gt=F("start")), name="outage_ends_after_start")]

    def __str__(self) -> str:
        return f"{self.pot}: {self.reason}"


class Container(KitchenRow):
    name = models.CharField(max_length=120)
    shape = models.CharField(max_length=120, choices=words(domain.SHAPES))
    material = models.CharField(max_length=120, choices=words(domain.VESSEL_MATERIALS))
    length_mm = models.FloatField()
    width_mm = models.FloatField()
    height_mm = models.FloatField()
    brim_l = models.FloatField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("container", "kitchen", "code"), *limits(domain.Container, table="container")]


class CoolingDevice(KitchenRow):
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=120, choices=words(domain.DEVICE_KINDS))
    vessel = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="+")
    places = models.PositiveIntegerField()
    vessel_fill_l = models.FloatField()
    stirred = models.BooleanField()
    rated_kg = models.FloatField(null=True, blank=True)
    rated_from_c = models.FloatField(null=True, blank=True)
    rated_to_c = models.FloatField(null=True, blank=True)
    rated_min = models.FloatField(null=True, blank=True)
    power_kw = models.FloatField(null=True, blank=True)
    air_temp_c = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("cooling_device", "kitchen", "code"), *limits(domain.CoolingDevice, table="cooling_device")]


class IceMachine(SameKitchen):
    kitchen = models.OneToOneField(Kitchen, on_delete=models.PROTECT, related_name="ice_machine")
    bin_kg = models.FloatField()
    make_kg_per_day = models.FloatField()
    start_share = models.FloatField()

    class Meta:
        constraints = limits(domain.IceMachine, table="ice_machine")

    def __str__(self) -> str:
        return f"Ice machine of {self.kitchen}"


class CubeTray(KitchenRow):
    name = models.CharField(max_length=120)
    cells = models.PositiveIntegerField()
    cell_ml = models.FloatField()
    trays = models.PositiveIntegerField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("cube_tray", "kitchen", "code"), *limits(domain.CubeTray, table="cube_tray")]


class Store(KitchenRow):
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=120, choices=words(domain.STORAGE_KINDS))
    volume_l = models.FloatField()
    usable_share = models.FloatField()
    air_temp_c = models.FloatField()
    spare_kw = models.FloatField()

    class Meta:
        ordering = ("position", "pk")
        constraints = [once("store", "kitchen", "code"), *limits(domain.Store, table="store")]


class Person(KitchenRow):
    """Somebody who works here; whether they may sign in is told by a membership."""

    name = models.CharField(max_length=120)

    class Meta:
        ordering = ("position", "pk")
        verbose_name_plural = "people"
        constraints = [once("person", "kitchen", "code")]


class OwnParameter(SameKitchen):
    """A coefficient that replaces the default one in this kitchen."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="parameters")
    code = models.CharField(max_length=40)
    position = models.PositiveIntegerField(default=0)
    value = models.FloatField()
    confidence = models.CharField(max_length=120, choices=words(("A", "B", "C")))
    n = models.PositiveIntegerField()
    low = models.FloatField()
    high = models.FloatField()
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ("position", "pk")
        constraints = [
            once("own_parameter", "kitchen", "code"),
            *limits(domain.OwnParameter, table="own_parameter"),
            models.CheckConstraint(
                condition=Q(low__lte=F("value"), high__gte=F("value")), name="own_parameter_within_its_interval"
            ),
        ]

    def __str__(self) -> str:
        return self.code
