"""Deliveries: what came lately with a form for the next, and one receipt with what became of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from production.domain.errors import PotwrightError
from production.domain.records.receiving import usual_state
from production.selectors.access import Action, may, require
from production.selectors.care import care_settings
from production.selectors.receipts import ReceivingChoices, receipt_of, receipts_of, receiving_choices, uses_of
from production.selectors.records import history_of
from production.services.receipts import Came, ingredient_lot_discard, receipt_correct, receipt_take
from production.web.door import kitchen_page, page, request_key
from production.web.forms.care import CareForm, Choices, ReceiptCorrectForm, ReceiptForm, ThrowAwayForm
from production.web.present.care import limit_words, receipt_row, thermometer_words
from production.web.style import style_of
from production.web.typed import kg_typed, moment_typed, refuse
from production.web.views.storage_temps import thermometer_choices

if TYPE_CHECKING:
    from production.models import Membership, Receipt

AT_ONCE = 50


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def receiving(request: HttpRequest, by: Membership) -> HttpResponse:
    """What came lately, and the form for what is coming in now."""
    require(by, Action.SEE_RECORDS)
    style, known, status = style_of(by.kitchen), receiving_choices(by=by), 200
    form = ReceiptForm(initial=_expected(request.GET, known), choices=_choices(by, known))
    if request.method == "POST":
        require(by, Action.RECORD)
        form, status = ReceiptForm(request.POST, choices=_choices(by, known)), 422
        if form.is_valid():
            accept = request.POST.get("decide") != "refuse"
            try:
                row = _taken(by, form.cleaned_data, accept=accept)
            except PotwrightError as error:
                status = refuse(form, error)
            else:
                _tell(request, row)
                return redirect("receipt", by.kitchen.code, row.code)
    search = request.GET.get("find", "")[:100]
    there = Paginator(receipts_of(by=by, search=search), AT_ONCE).get_page(request.GET.get("page"))
    care = care_settings(kitchen=by.kitchen)
    context = {
        "form": form if may(by, Action.RECORD) else None,
        "rows": [receipt_row(each, style) for each in there],
        "there": there,
        "find": search,
        "limits": [limit_words(each, style) for each in (care.receive_chilled_c, care.receive_frozen_c)],
        "has_suppliers": bool(known.suppliers),
        "is_expected": bool(request.GET.get("ingredient")),
    }
    return page(request, by, "receiving.html", context, here="receiving", status=status)


def _choices(by: Membership, known: ReceivingChoices) -> dict[str, Choices]:
    return {
        "supplier": [(each.code, each.name) for each in known.suppliers],
        "ingredient": [(each.code, each.name) for each in known.ingredients],
        "store": [("", "not said"), *((each.code, each.name) for each in known.stores)],
        "thermometer": thermometer_choices(by),
    }


def _expected(said: Mapping[str, str], known: ReceivingChoices) -> dict[str, Any]:
    """What a line of a purchase list says is coming, as the form's first values."""
    supplier = next((each for each in known.suppliers if each.name == said.get("supplier")), None)
    ingredient = next((each for each in known.ingredients if each.name == said.get("ingredient")), None)
    found: dict[str, Any] = {"key": request_key(), "packs_sound": False, "came_as": "chilled"}
    if ingredient is not None:
        found["ingredient"] = ingredient.code
        found["came_as"] = usual_state(material=ingredient.material, charge_temp_c=ingredient.charge_temp_c)
    if supplier is not None:
        found["supplier"] = supplier.code
    return found | {name: said[name][:120] for name in ("packs", "mass", "purchase_list") if name in said}


def _came(by: Membership, typed: Mapping[str, Any]) -> Came:
    same = ("supplier", "ingredient", "packs", "came_as", "temp", "thermometer", "frozen_hard", "packs_sound",
            "supplier_lot", "delivery_note", "purchase_list", "use_by", "store")  # fmt: skip
    return Came(
        mass_kg=kg_typed(typed["mass"], by.kitchen),
        received_at=moment_typed(typed["at"], by.kitchen, timezone.now()),
        **{name: typed[name] for name in same},
    )


def _taken(by: Membership, typed: Mapping[str, Any], *, accept: bool) -> Receipt:
    came, now = _came(by, typed), timezone.now()
    return receipt_take(by=by, came=came, accept=accept, reason=typed["reason"], key=typed["key"], now=now)


def _tell(request: HttpRequest, row: Receipt) -> None:
    if not row.accepted:
        messages.success(request, f"{row.ingredient.name} is written down as sent back.")
    elif row.in_limits:
        messages.success(request, f"{row.ingredient.name} is taken in as lot {row.lot.code}. Write the code on it.")
    else:
        messages.warning(
            request, f"{row.ingredient.name} is taken in as lot {row.lot.code}, past a limit: a deviation."
        )


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def receipt(request: HttpRequest, by: Membership, code: str) -> HttpResponse:
    """One receipt: what came, what it went into, and its correction."""
    require(by, Action.SEE_RECORDS)
    style, row, status = style_of(by.kitchen), receipt_of(by=by, code=code), 200
    forms = _forms(by, row, None)
    if request.method == "POST":
        require(by, Action.RECORD)
        forms = _forms(by, row, request.POST)
        form = next((each for each in forms if each.is_bound), None)
        if form is None:
            raise Http404("There is nothing like that to do to a receipt.")
        status = _do(request, by, row, form) if form.is_valid() else 422
        if not status:
            return redirect("receipt", by.kitchen.code, row.code)
        row = receipt_of(by=by, code=code)
    uses = uses_of(by=by, receipt=row)
    context = {
        "receipt": row,
        "row": receipt_row(row, style),
        "said": row.entry.content,
        "thermometer": thermometer_words(row.thermometer, row.entry.content),
        "uses": [(each, style.amount(float(each.mass_kg), "kg"), style.when(each.entry.happened_at)) for each in uses],
        "history": [
            (each, style.when(each.entry.made_at)) for each in history_of(by=by, subject=f"receipt/{row.code}")
        ],
        "forms": forms,
    }
    return page(request, by, "receipt.html", context, here="receiving", status=status)


def _forms(by: Membership, row: Receipt, posted: Any) -> list[CareForm]:
    if not may(by, Action.RECORD):
        return []
    sent, key, found = (posted or {}).get("do"), request_key(), []
    lot = getattr(row, "lot", None)
    if lot is not None and lot.left_kg > 0:
        found.append(ThrowAwayForm(posted) if sent == ThrowAwayForm.name else ThrowAwayForm(initial={"key": key}))
    choices = _choices(by, receiving_choices(by=by))
    initial = {"key": key} | _as_it_stands(row)
    correct = ReceiptCorrectForm(posted if sent == ReceiptCorrectForm.name else None, initial=initial, choices=choices)
    return [*found, correct]


def _as_it_stands(row: Receipt) -> dict[str, Any]:
    said = row.entry.content
    zone = style_of(row.kitchen).zone
    return {
        "supplier": row.supplier.code,
        "ingredient": row.ingredient.code,
        "packs": row.packs,
        "mass": f"{row.mass_kg.normalize():f} kg",
        "supplier_lot": row.supplier_lot,
        "use_by": row.use_by,
        "came_as": row.came_as,
        "temp": said.get("temp", ""),
        "thermometer": said.get("thermometer", ""),
        "frozen_hard": said.get("frozen_hard", False),
        "packs_sound": said.get("packs_sound", False),
        "store": said.get("store", ""),
        "delivery_note": row.delivery_note,
        "purchase_list": row.purchase_list,
        "at": row.received_at.astimezone(zone).replace(tzinfo=None),
    }


def _do(request: HttpRequest, by: Membership, row: Receipt, form: CareForm) -> int:
    typed, now = form.cleaned_data, timezone.now()
    about: dict[str, Any] = {"by": by, "code": row.code, "reason": typed["reason"], "key": typed["key"], "now": now}
    try:
        if form.name == ThrowAwayForm.name:
            ingredient_lot_discard(**about)
            messages.success(request, "What was left is written down as thrown away.")
        else:
            receipt_correct(came=_came(by, typed), **about)
            messages.success(request, "Corrected; the old words stay in the book.")
    except PotwrightError as error:
        return refuse(form, error)
    return 0
