"""The bank of saved bones and trim."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import QuerySet
from django.http import Http404

from production.domain.kitchen import SOLID_ROLES
from production.models import Bones, Ingredient, Membership, RunRecord, Store
from production.selectors.access import Action, require
from production.selectors.lots import lot_settings


def bones_of(*, by: Membership) -> QuerySet[Bones]:
    """The bank, first expired first."""
    require(by, Action.SEE_RECORDS)
    return Bones.objects.filter(kitchen_id=by.kitchen_id).select_related("ingredient", "store")


def bones_there(*, by: Membership) -> QuerySet[Bones]:
    """What is left in the bank."""
    return bones_of(by=by).filter(left_kg__gt=0)


def bones_one(*, by: Membership, code: str) -> Bones:
    """One entry of the bank."""
    found = bones_of(by=by).filter(code=code).first()
    if found is None:
        raise Http404("The bank has no such bones.")
    return found


def bones_ingredients(*, by: Membership) -> list[Ingredient]:
    """What may be put by: ingredients that fill a role among the solids of a formula."""
    rows = Ingredient.objects.filter(kitchen_id=by.kitchen_id, retired=False)
    return [row for row in rows if set(row.roles) & set(SOLID_ROLES)]


def bones_stores(*, by: Membership) -> list[Store]:
    """Where they may be put."""
    return list(Store.objects.filter(kitchen_id=by.kitchen_id, retired=False))


def bones_use_by(*, by: Membership, store: Store, saved_on: date) -> date:
    """The last day of use by the kitchen's own setting, the day of saving being day 1; common practice, no source."""
    settings = lot_settings(kitchen=by.kitchen)
    days = settings.bones_frozen_days if store.kind == "frozen" else settings.bones_chilled_days
    return saved_on + timedelta(days=days - 1)


def bones_runs(*, by: Membership) -> list[RunRecord]:
    """Runs that bones may be taken for: those under way."""
    rows = RunRecord.objects.filter(kitchen_id=by.kitchen_id, state=RunRecord.State.UNDER_WAY)
    return list(rows.select_related("week").defer("sheet").order_by("-begun_at"))
