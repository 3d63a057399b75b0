"""Deviations: what went wrong, what is done about it, and how it ends."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.reviews import DISPOSITIONS, PUT_RIGHT
from production.selectors.access import Action, may, require
from production.selectors.deviations import (
    Remedies,
    actions_of_deviation,
    deviation_counts,
    deviation_of,
    deviations_of,
    lots_of_deviation,
    measures_for,
    remedies_of,
)
from production.selectors.reviews import questions_waiting
from production.services.deviations import deviation_act, deviation_close
from production.web.door import kitchen_page, page, request_key
from production.web.forms.inspection import ActForm, CloseForm, DeviationsForm
from production.web.forms.lots import KeyedForm
from production.web.present.deviations import MEASURES, deviation_view
from production.web.present.inspection import titles
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Deviation, Membership

AT_ONCE = 50


@kitchen_page
@require_safe
def deviations(request: HttpRequest, by: Membership) -> HttpResponse:
    """All that went wrong and what was done, open ones first; printed, it is the answer for a period."""
    require(by, Action.SEE_RECORDS)
    style, form = style_of(by.kitchen), DeviationsForm(request.GET)
    today = style.day_of(style.now)
    found = deviations_of(by=by, today=today, chosen=form.chosen())
    shown = Paginator(found, AT_ONCE).get_page(request.GET.get("page"))
    rows = list(shown.object_list)
    actions = actions_of_deviation(rows)
    kept = {name: value for name, value in request.GET.items() if name != "page" and value}
    context = {
        "form": form,
        "is_chosen": bool(kept),
        "chosen": form.chosen(),
        "shown": shown,
        "query": urlencode(kept),
        "deviations": [deviation_view(each, actions[each.number], style=style, lots=_lots(each)) for each in rows],
        "counts": deviation_counts(by=by, today=today),
        "questions": titles(list(questions_waiting(by=by))),
    }
    return page(request, by, "deviations.html", context, here="deviations")


def _lots(deviation: Deviation) -> list[Any]:
    of_cooling = [] if deviation.cooling is None else list(deviation.cooling.lots.all())
    return [*of_cooling, *(each for each in deviation.lots.all() if each not in of_cooling)]


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def deviation(request: HttpRequest, by: Membership, number: int) -> HttpResponse:
    """One deviation: what may be done by the rule, what was done, and closing it."""
    row, refused, status = deviation_of(by=by, number=number), None, 200
    remedies = remedies_of(by=by, deviation=row, now=timezone.now())
    if request.method == "POST":
        form = _sent(by, request, row, remedies)
        status = 422
        if form.is_valid():
            try:
                _do(by, number, form)
            except PotwrightError as error:
                form.add_error(None, f"{error.sentence} {error.remedy}".strip())
                status = 403 if isinstance(error, NotAllowed) else 409 if isinstance(error, Conflict) else 422
            else:
                messages.success(request, "Written down." if form.name == "act" else f"Deviation {number} is closed.")
                return redirect("deviation", by.kitchen.code, number)
        row, refused = deviation_of(by=by, number=number), form
    style = style_of(by.kitchen)
    lots = list(lots_of_deviation(row))
    context = {
        "view": deviation_view(row, actions_of_deviation([row])[number], style=style, lots=lots),
        "measures": [(each.sentence, each.source) for each in remedies.measures] if row.state == "open" else [],
        "forms": _forms(by, row, remedies, refused),
        "refused": "" if refused is None else refused.name,
    }
    return page(request, by, "deviation.html", context, here="deviations", status=status)


def _sent(by: Membership, request: HttpRequest, row: Deviation, remedies: Remedies) -> KeyedForm:
    """The form that was sent. Who may not do it is told so before anything of it is read."""
    if request.POST.get("do") == "close":
        require(by, Action.CLOSE_DEVIATIONS)
        return _close_form(remedies, request.POST)
    require(by, Action.RECORD)
    return _act_form(row, remedies, request.POST)


def _act_form(row: Deviation, remedies: Remedies, posted: Any = None, **more: Any) -> ActForm:
    kinds = measures_for(row, remedies)
    names = [(kind, "The cause was put right" if kind == PUT_RIGHT else MEASURES[kind]) for kind in kinds]
    return ActForm(posted, measures=names, **more)


def _close_form(remedies: Remedies, posted: Any = None, **more: Any) -> CloseForm:
    return CloseForm(posted, dispositions=[(each, DISPOSITIONS[each]) for each in remedies.dispositions], **more)


def _do(by: Membership, number: int, form: KeyedForm) -> None:
    about: dict[str, Any] = {"by": by, "number": number, "now": timezone.now(), **form.cleaned_data}
    if form.name == "close":
        deviation_close(**about)
    else:
        deviation_act(**about)


def _forms(by: Membership, row: Deviation, remedies: Remedies, refused: KeyedForm | None) -> list[KeyedForm]:
    """What this person can do; a refused form keeps what was typed."""
    forms: list[KeyedForm] = []
    if row.state == "open" and may(by, Action.RECORD):
        forms.append(_act_form(row, remedies, initial={"key": request_key()}))
    if row.state == "open" and may(by, Action.CLOSE_DEVIATIONS):
        forms.append(_close_form(remedies, initial={"key": request_key()}))
    shown = [refused if refused is not None and refused.name == each.name else each for each in forms]
    return shown if refused is None or refused in shown else [refused, *shown]
