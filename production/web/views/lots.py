"""Lots: what stands where, what is held and why, and what is done about it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.lots import may_release
from production.selectors.access import Action, may, require
from production.selectors.lots import (
    coolings_to_pack,
    lot_grounds,
    lot_moves,
    lot_of,
    lot_story,
    lot_verdict,
    lots_there,
    packing_choices,
    stock_not_taken_in,
)
from production.selectors.stock import stores_ahead
from production.services.dispatch import lot_return
from production.services.label_sheets import labels_request
from production.services.lot_decisions import lot_count, lot_discard, lot_evaluate, lot_hold, lot_release
from production.services.lots import lot_make
from production.services.stock_in import stock_take_in
from production.web.door import kitchen_page, page, request_key
from production.web.forms.lots import (
    CountForm,
    DiscardForm,
    EvaluateForm,
    HoldForm,
    KeyedForm,
    LabelsForm,
    PackForm,
    ReleaseForm,
    ReturnForm,
    TakeInForm,
)
from production.web.present.lots import VERDICTS, lot_row, shelf_picture, story_line, to_pack
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Lot, Membership

_Offer = tuple[type[KeyedForm], dict[str, Any], dict[str, Any]]  # form, what stands in it, what it must know


@kitchen_page
@require_safe
def lots(request: HttpRequest, by: Membership) -> HttpResponse:
    """The stores with the days ahead, what waits to be packed, and every lot that is left, first expired first."""
    style = style_of(by.kitchen)
    waiting = coolings_to_pack(by=by)
    there = list(lots_there(by=by))
    context = {
        "may_record": may(by, Action.RECORD),
        "to_pack": to_pack(coolings=waiting, verdict_of={each.pk: each.verdict for each in waiting}, style=style),
        "stock": len(stock_not_taken_in(by=by, now=timezone.now())) if may(by, Action.DECIDE_LOTS) else 0,
        "take_in": TakeInForm(initial={"key": request_key()}),
        "lots": [lot_row(lot=each, verdict=lot_verdict(each), style=style) for each in there],
        "held": sum(each.status == "held" for each in there),
        "shelves": [shelf_picture(ahead=each, style=style) for each in stores_ahead(by=by, now=timezone.now())],
    }
    return page(request, by, "lots.html", context, here="lots")


@kitchen_page
@require_POST
def lots_take_in(request: HttpRequest, by: Membership) -> HttpResponse:
    """Make lots of the opening stock, on the manager's word."""
    taken = stock_take_in(by=by, statement=request.POST.get("take-in-statement", ""), now=timezone.now())
    messages.success(
        request, f"{len(taken)} lot{'' if len(taken) == 1 else 's'} taken over from the stock of the week."
    )
    return redirect("lots", by.kitchen.code)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def lot_pack(request: HttpRequest, by: Membership) -> HttpResponse:
    """Make a lot of a draw whose cooling is done."""
    require(by, Action.RECORD)
    named = request.GET.get("cooling", "")
    choices = packing_choices(by=by, cooling=named)
    if choices is None:
        raise Http404("This kitchen has no such cooling log.")
    picked = {"coolings": choices.coolings, "products": choices.products, "stores": choices.stores}
    initial = {"key": request_key(), "coolings": [code for code, _ in choices.coolings]}
    form, status = PackForm(initial=initial, **picked), 200
    if request.method == "POST":
        form = PackForm(request.POST, **picked)
        status = 422
        if form.is_valid():
            now = timezone.now()
            try:
                lot = lot_make(by=by, packed_at=now, now=now, **form.cleaned_data)
            except PotwrightError as error:
                status = _refuse(form, error)
            else:
                messages.success(request, f"Lot {lot.code} is made and held. Print its labels, then release it.")
                return redirect("lot", by.kitchen.code, lot.code)
    context = {"form": form, "run": choices.run, "draw": choices.draw}
    return page(request, by, "lot_pack.html", context, here="lots", status=status)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def lot(request: HttpRequest, by: Membership, code: str) -> HttpResponse:
    """One lot: what it is, what its cooling shows, what has been done, and what can be done."""
    row, refused, status = lot_of(by=by, code=code), None, 200
    if request.method == "POST":
        require(by, Action.RECORD)
        form = next((each for each in _forms(by, row, request.POST) if each.name == request.POST.get("do")), None)
        if form is None:
            raise Http404("There is nothing like that to do to a lot.")
        status = 422
        if form.is_valid():
            try:
                answer = _do(request, by, code, form)
            except PotwrightError as error:
                status = _refuse(form, error)
            else:
                return answer
        row, refused = lot_of(by=by, code=code), form
    return page(request, by, "lot.html", _lot_context(by, row, refused), here="lots", status=status)


def _refuse(form: KeyedForm, error: PotwrightError) -> int:
    """Put a refusal where it was typed; says the status of the answer."""
    form.add_error(None, f"{error.sentence} {error.remedy}".strip())
    if isinstance(error, NotAllowed):
        return 403
    return 409 if isinstance(error, Conflict) else 422


def _do(request: HttpRequest, by: Membership, code: str, form: KeyedForm) -> HttpResponse:
    """Do what the form says, and say what has happened."""
    typed: dict[str, Any] = dict(form.cleaned_data)
    about: dict[str, Any] = {"by": by, "code": code, "now": timezone.now()}
    match form.name:
        case "labels":
            key = typed.pop("key")
            job_id = labels_request(by=by, code=code, idempotency_key=f"labels-{key}", **typed)
            return redirect("job", by.kitchen.code, job_id)
        case "release":
            lot_release(**about, **typed)
            said = f"Lot {code} is free: it may leave."
        case "hold":
            lot_hold(**about, **typed)
            said = f"Lot {code} is on hold."
        case "discard":
            left = lot_discard(**about, **typed).left
            said = f"{typed['containers']} containers of lot {code} are thrown away, {left} are left."
        case "count":
            said = f"Lot {code} now has {lot_count(**about, **typed).left} containers."
        case "evaluate":
            lot_evaluate(**about, **typed)
            said = f"The evaluation of lot {code} is written down."
        case _:
            lot_return(**about, **typed)
            said = f"{typed['containers']} containers of lot {code} came back and are thrown away."
    messages.success(request, said)
    return redirect("lot", by.kitchen.code, code)


def _forms(by: Membership, row: Lot, posted: Any = None) -> list[KeyedForm]:
    """What can be done to the lot as it is; of posted forms only the one that was sent is bound."""
    key, verdict = request_key(), lot_verdict(row)
    sent = {move.outlet.code: move.outlet.name for move in lot_moves(by=by, lot=row) if move.outlet is not None}
    found: list[_Offer] = []
    discard: _Offer = (DiscardForm, {"seen_left": row.left, "containers": row.left}, {})
    if row.status == "held" and row.left and may_release(lot_grounds(by=by, lot=row)):
        found.append((ReleaseForm, {"seen": row.status}, {}))
    if row.left and verdict != "met":
        found.append(discard)
        if may(by, Action.DECIDE_LOTS):
            found.append((EvaluateForm, {}, {}))
    if row.left and row.run is not None:
        found.append((LabelsForm, {"copies": row.left, "first_place": 1}, {}))
    if row.status == "free":
        found.append((HoldForm, {"seen": row.status}, {}))
    if row.left and verdict == "met":
        found.append(discard)
    if row.left:
        found.append((CountForm, {"seen_left": row.left, "found": row.left}, {}))
    if sent:
        found.append((ReturnForm, {}, {"outlets": list(sent.items())}))
    if posted is not None:  # also what no longer fits the lot is looked at, so that the second of two is told why
        late: list[_Offer] = [(ReleaseForm, {}, {}), (HoldForm, {}, {})]
        return [kind(posted, **more) for kind, _, more in (*found, *late)]
    return [kind(initial={"key": key, **initial}, **more) for kind, initial, more in found]


def _another_href(by: Membership, row: Lot) -> str:
    """Where another product of the same draw is packed; nothing where the lot was not cooked here."""
    cooling = next(iter(row.coolings.all()), None)
    if cooling is None:
        return ""
    query = urlencode({"cooling": cooling.subject})
    return f"{reverse('lot-pack', args=[by.kitchen.code])}?{query}"


def _lot_context(by: Membership, row: Lot, refused: KeyedForm | None) -> dict[str, Any]:
    style = style_of(by.kitchen)
    verdict = lot_verdict(row)
    meaning, words = VERDICTS[verdict]
    forms = _forms(by, row) if may(by, Action.RECORD) else []
    shown = [refused if refused is not None and refused.name == each.name else each for each in forms]
    if refused is not None and refused.name not in {each.name for each in forms}:
        shown.insert(0, refused)
    return {
        "lot": row,
        "row": lot_row(lot=row, verdict=verdict, style=style),
        "verdict_meaning": meaning,
        "verdict_words": words,
        "grounds": lot_grounds(by=by, lot=row),
        "made": style.day(row.made_on),
        "packed": style.when(row.packed_at),
        "logs": [(each.subject.removeprefix("cooling/"), VERDICTS[each.verdict]) for each in row.coolings.all()],
        "story": [story_line(entry=each, style=style) for each in lot_story(by=by, lot=row)],
        "forms": shown,
        "another": _another_href(by, row),
        "refused": "" if refused is None else refused.name,
    }
