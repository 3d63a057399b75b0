"""The bank of saved bones and trim: what is there, putting by, taking out."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.quantities import parse_quantity
from production.selectors.access import Action, may, require
from production.selectors.bones import bones_ingredients, bones_one, bones_runs, bones_stores, bones_there
from production.services.bones import bones_discard, bones_save, bones_use
from production.web.door import kitchen_page, page, request_key
from production.web.forms.bones import DiscardBonesForm, SaveForm, UseForm
from production.web.forms.lots import KeyedForm
from production.web.present.bones import bones_row
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def bones(request: HttpRequest, by: Membership) -> HttpResponse:
    """What is in the bank, first expired first, and the form to put something by."""
    require(by, Action.SEE_RECORDS)
    style = style_of(by.kitchen)
    choices = {
        "ingredients": [(each.code, each.name) for each in bones_ingredients(by=by)],
        "stores": [(each.code, f"{each.name} ({each.kind})") for each in bones_stores(by=by)],
    }
    initial = {"key": request_key(), "saved_on": style.day_of(style.now)}
    form, status = SaveForm(initial=initial, **choices), 200
    if request.method == "POST":
        require(by, Action.RECORD)
        form, status = SaveForm(request.POST, **choices), 422
        if form.is_valid():
            typed = form.cleaned_data
            try:
                saved = bones_save(by=by, mass_kg=_kg(typed.pop("mass"), by), now=timezone.now(), **typed)
            except PotwrightError as error:
                status = _refuse(form, error)
            else:
                messages.success(request, f"{saved.code}: {saved.mass_kg} kg put by until {style.day(saved.use_by)}.")
                return redirect("bones", by.kitchen.code)
    rows = [bones_row(bones=each, style=style) for each in bones_there(by=by)]
    context = {"form": form, "rows": rows, "may_record": may(by, Action.RECORD)}
    return page(request, by, "bones.html", context, here="bones", status=status)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def bones_take(request: HttpRequest, by: Membership, code: str) -> HttpResponse:
    """Take some out for a run, or throw away what is left."""
    require(by, Action.SEE_RECORDS)
    style, row, status = style_of(by.kitchen), bones_one(by=by, code=code), 200
    runs = [(each.subject, f"{each.code} of the week of {each.week.starts_on}") for each in bones_runs(by=by)]
    key = request_key()
    forms: list[KeyedForm] = [UseForm(initial={"key": key}, runs=runs), DiscardBonesForm(initial={"key": key})]
    if request.method == "POST":
        require(by, Action.RECORD)
        place = 1 if request.POST.get("do") == "discard" else 0
        form: KeyedForm = DiscardBonesForm(request.POST) if place else UseForm(request.POST, runs=runs)
        forms[place], status = form, 422
        if form.is_valid():
            try:
                left = _take(by, code, form)
            except PotwrightError as error:
                status = _refuse(form, error)
            else:
                messages.success(request, f"{code}: {left.left_kg} kg are left.")
                return redirect("bones", by.kitchen.code)
        row = bones_one(by=by, code=code)
    shown = forms if may(by, Action.RECORD) and row.left_kg else []
    context = {"bones": row, "row": bones_row(bones=row, style=style), "forms": shown}
    return page(request, by, "bones_take.html", context, here="bones", status=status)


def _take(by: Membership, code: str, form: KeyedForm) -> Any:
    typed, now = dict(form.cleaned_data), timezone.now()
    if form.name == "discard":
        return bones_discard(by=by, code=code, now=now, **typed)
    return bones_use(by=by, code=code, mass_kg=_kg(typed.pop("mass"), by), now=now, **typed)


def _kg(typed: str, by: Membership) -> Decimal:
    """A typed weight in kg; a bare number is in the kitchen's own unit."""
    text = typed.strip()
    if text.replace(".", "", 1).isdecimal():
        text = f"{text} {'lb' if by.kitchen.units == 'us' else 'kg'}"
    return Decimal(repr(parse_quantity(text, "kg"))).quantize(Decimal("0.01"))


def _refuse(form: KeyedForm, error: PotwrightError) -> int:
    form.add_error(None, f"{error.sentence} {error.remedy}".strip())
    if isinstance(error, NotAllowed):
        return 403
    return 409 if isinstance(error, Conflict) else 422
