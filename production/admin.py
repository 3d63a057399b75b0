"""Upkeep of equipment, catalogue and people by a kitchen's administrator. Plans, documents and jobs are not edited.

Formulas are not here either: their content never changes in place, a new version comes with a week file.
"""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any, ClassVar
from uuid import uuid4

from django import forms
from django.contrib import admin
from django.db import models
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from production.domain.limits import RULES
from production.models import (
    CareSettings,
    Checkpoint,
    Container,
    CoolingDevice,
    CubeTray,
    Entry,
    HeatSource,
    HeatSupply,
    IceMachine,
    Ingredient,
    Kitchen,
    LotSettings,
    Membership,
    Offer,
    Outlet,
    OwnParameter,
    Person,
    Pot,
    Product,
    ProductLabel,
    SafetyPlan,
    Store,
    Supplier,
)
from production.models.base import KitchenRow
from production.selectors.access import ALLOWED, Action
from production.selectors.week_rows import KITCHEN_TABLES, PARAMETERS
from production.services.care_settings import care_settings_set
from production.services.safety_plan import safety_plan_set


def kitchens_of(request: HttpRequest, action: Action) -> QuerySet[Kitchen]:
    """The kitchens in which the person may do this."""
    roles = [role for role, actions in ALLOWED.items() if action in actions]
    return Kitchen.objects.filter(memberships__user=request.user.pk or 0, memberships__role__in=roles)


if TYPE_CHECKING:
    RowAdmin = admin.ModelAdmin[Any]
else:
    RowAdmin = admin.ModelAdmin


class OwnKitchenAdmin(RowAdmin):
    """Rows of the kitchens the person administers, and no others."""

    action = Action.SET_UP
    owner = "kitchen"
    exclude: ClassVar[tuple[str, ...]] = ("position", "retired")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        own = kitchens_of(request, self.action)
        return super().get_queryset(request).filter(**{f"{self.owner}__in": own})

    def has_module_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active) and kitchens_of(request, self.action).exists()

    def has_view_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        if obj is None:
            return self.has_module_permission(request)
        return self.get_queryset(request).filter(pk=obj.pk).exists()

    def has_change_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return self.has_view_permission(request, obj)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return self.has_module_permission(request)

    def has_delete_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False

    def formfield_for_foreignkey(
        self, db_field: models.ForeignKey[Any], request: HttpRequest, **kwargs: Any
    ) -> forms.ModelChoiceField[Any] | None:
        own = kitchens_of(request, self.action)
        target = db_field.related_model
        if target is Kitchen:
            kwargs["queryset"] = own
        elif issubclass(target, KitchenRow):
            kwargs["queryset"] = target._default_manager.filter(kitchen__in=own)  # noqa: SLF001
        return super().formfield_for_foreignkey(db_field, request, **kwargs)


class EntryAdmin(OwnKitchenAdmin):
    """Entries of the set-up and the catalogue; each field says what the domain says of it."""

    list_display = ("__str__", "code", "kitchen")
    ordering = ("kitchen", "position", "pk")

    def formfield_for_dbfield(
        self, db_field: models.Field[Any, Any], request: HttpRequest, **kwargs: Any
    ) -> forms.Field | None:
        said = HELP.get((self.model, db_field.name))
        if said:
            kwargs.setdefault("help_text", said)
        return super().formfield_for_dbfield(db_field, request, **kwargs)


HELP: dict[tuple[type[models.Model], str], str] = {
    (table.model, each.name): f"{each.metadata['doc']} {each.metadata.get('unit', '')}".strip()
    for table in (*KITCHEN_TABLES, PARAMETERS)
    for each in fields(table.entry)
}


def cooling_rules() -> list[tuple[str, str]]:
    """The rules by which a cooked broth can be planned; none is chosen unasked."""
    return [("", "---------")] + [
        (each.code, f"{each.code}: {each.title}, {each.jurisdiction} ({each.legal_status})")
        for each in RULES.values()
        if not each.unfit
    ]


@admin.register(Kitchen)
class KitchenAdmin(OwnKitchenAdmin):
    owner = "pk"
    exclude = ()
    readonly_fields = ("code",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def formfield_for_dbfield(
        self, db_field: models.Field[Any, Any], request: HttpRequest, **kwargs: Any
    ) -> forms.Field | None:
        if db_field.name == "cooling_rule":
            return forms.ChoiceField(choices=cooling_rules, help_text="The rule the kitchen works under.")
        return super().formfield_for_dbfield(db_field, request, **kwargs)


@admin.register(Membership)
class MembershipAdmin(OwnKitchenAdmin):
    action = Action.MANAGE_PEOPLE
    exclude = ()
    raw_id_fields = ("user",)
    list_display = ("user", "kitchen", "role")

    def has_delete_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return self.has_view_permission(request, obj)


class ReadOnlyAdmin(OwnKitchenAdmin):
    """What was written down can be looked at, and nothing else."""

    exclude = ()

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: models.Model | None = None) -> bool:
        return False


@admin.register(Entry)
class RecordAdmin(ReadOnlyAdmin):
    list_display = ("number", "kitchen", "kind", "subject", "happened_at", "by_name")
    list_select_related = ("kitchen",)
    search_fields = ("subject", "kind", "by_name")
    ordering = ("kitchen", "-number")


@admin.register(Checkpoint)
class CheckpointAdmin(ReadOnlyAdmin):
    list_display = ("kitchen", "size", "signed_at", "key_id")
    list_select_related = ("kitchen",)
    ordering = ("kitchen", "-size")


@admin.register(SafetyPlan)
class SafetyPlanAdmin(OwnKitchenAdmin):
    exclude = ()
    list_display = ("kitchen", "reheats_allowed", "second_person_excludes", "review_working_days")
    list_select_related = ("kitchen",)

    def save_model(
        self, request: HttpRequest, obj: SafetyPlan, form: forms.ModelForm[SafetyPlan], change: bool
    ) -> None:
        """What the plan allows decides over safety: each change of it is written in the kitchen's book."""
        by = Membership.objects.select_related("kitchen", "user").get(user=request.user.pk, kitchen=obj.kitchen_id)
        safety_plan_set(by=by, plan=obj, key=f"safety-plan/{uuid4()}", now=timezone.now())


@admin.register(CareSettings)
class CareSettingsAdmin(OwnKitchenAdmin):
    exclude = ()
    list_display = ("kitchen", "check_every_days", "store_chilled_c", "store_frozen_c")
    list_select_related = ("kitchen",)

    def save_model(
        self, request: HttpRequest, obj: CareSettings, form: forms.ModelForm[CareSettings], change: bool
    ) -> None:
        """These limits decide over safety: each change of them is written in the kitchen's book."""
        by = Membership.objects.select_related("kitchen", "user").get(user=request.user.pk, kitchen=obj.kitchen_id)
        care_settings_set(by=by, care=obj, key=f"care-settings/{uuid4()}", now=timezone.now())


@admin.register(LotSettings)
class LotSettingsAdmin(OwnKitchenAdmin):
    exclude = ()
    list_display = ("kitchen", "label_law", "bones_chilled_days", "bones_frozen_days")
    list_select_related = ("kitchen",)


@admin.register(ProductLabel)
class ProductLabelAdmin(OwnKitchenAdmin):
    owner = "product__kitchen"
    exclude = ()
    list_display = ("product", "gtin")
    list_select_related = ("product",)


@admin.register(IceMachine)
class IceMachineAdmin(OwnKitchenAdmin):
    exclude = ()


admin.site.register(
    [
        Container,
        CoolingDevice,
        CubeTray,
        HeatSource,
        HeatSupply,
        Ingredient,
        Offer,
        Outlet,
        OwnParameter,
        Person,
        Pot,
        Product,
        Store,
        Supplier,
    ],
    EntryAdmin,
)
