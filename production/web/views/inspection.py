"""Inspection: what waits to be reviewed, one log on one screen, and the book itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.domain.records.reviews import quarter_of
from production.selectors.access import Action, may, require
from production.selectors.deviations import review_days
from production.selectors.record_check import book_check
from production.selectors.records import last_checkpoint
from production.selectors.reviewed_log import ReviewedLog, reviewed_log
from production.selectors.reviews import (
    ReviewFilter,
    logs_to_review,
    memberships_inspecting,
    review_choices,
    review_counts,
)
from production.services.reviews import review_answer, review_ask, review_refuse, review_sign
from production.web.door import kitchen_page, page, request_key
from production.web.forms.inspection import AnswerForm, AskForm, KitchenLogsForm, LogsForm, RefuseForm, SignForm
from production.web.forms.lots import KeyedForm
from production.web.present.inspection import LogRow, log_row, log_view
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership

AT_ONCE = 25
EVERYWHERE = "all"  # in the address: the next log may be one of another kitchen


@kitchen_page
@require_safe
def inspection(request: HttpRequest, by: Membership) -> HttpResponse:
    """The kitchen's logs, those with a deviation first, then the oldest."""
    require(by, Action.INSPECT)
    form = KitchenLogsForm(request.GET, choices=review_choices(by=by))
    first, last = quarter_of(day=style_of(by.kitchen).day_of(timezone.now()))
    breaches = urlencode({"verdict": "breached", "since": first.isoformat(), "until": last.isoformat()})
    context = {"breaches": breaches, "several": len(memberships_inspecting(user=request.user)) > 1}
    return page(request, by, "inspection.html", _list(request, [by], form) | context, here="inspection")


@never_cache
@login_required
@require_safe
def inspections(request: HttpRequest) -> HttpResponse:
    """One list over all kitchens that this person inspects."""
    memberships = memberships_inspecting(user=request.user)
    if not memberships:
        raise Http404("There is no such kitchen.")
    context = _list(request, memberships, LogsForm(request.GET)) | {"memberships": memberships, "everywhere": True}
    return render(request, "inspections.html", context)


def _list(request: HttpRequest, by: Sequence[Membership], form: LogsForm) -> dict[str, Any]:
    now = timezone.now()
    paginator = Paginator(logs_to_review(by=by, chosen=form.chosen(), now=now), AT_ONCE)
    shown = paginator.get_page(request.GET.get("page"))
    days = {each.kitchen_id: review_days(kitchen=each.kitchen) for each in by}
    styles = {each.kitchen_id: style_of(each.kitchen) for each in by}
    rows: list[LogRow] = [
        log_row(each, days=days[each.kitchen_id], style=styles[each.kitchen_id]) for each in shown.object_list
    ]
    kept = {name: value for name, value in request.GET.items() if name != "page" and value}
    return {
        "form": form,
        "rows": rows,
        "shown": shown,
        "total": paginator.count,
        "counts": review_counts(by=by, now=now),
        "query": urlencode(kept),
    }


@sensitive_post_parameters("sign-password")
@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def inspection_log(request: HttpRequest, by: Membership, name: str) -> HttpResponse:
    """One log with everything about it; inspectors sign, ask and refuse here, the kitchen answers."""
    require(by, Action.SEE_RECORDS)
    found, refused, status = reviewed_log(by=by, subject=f"cooling/{name}"), None, 200
    if request.method == "POST":
        form = _sent(by, request)
        status = 422
        if form.is_valid():
            try:
                return _do(request, by, found, form)
            except PotwrightError as error:
                form.add_error(None, f"{error.sentence} {error.remedy}".strip())
                status = 403 if isinstance(error, NotAllowed) else 409 if isinstance(error, Conflict) else 422
        found, refused = reviewed_log(by=by, subject=found.subject), form
    forms = _forms(by, found, refused)
    context = {
        "found": found,
        "view": log_view(found, style=style_of(by.kitchen)),
        "forms": forms,
        "to_sign": any(each.name == "sign" for each in forms),
        "refused": "" if refused is None else refused.name,
        "back": _back(by, request),
    }
    return page(request, by, "inspection_log.html", context, here="inspection", status=status)


def _sent(by: Membership, request: HttpRequest) -> KeyedForm:
    """The form that was sent. Who may not do it is told so before anything of it is read."""
    kinds: dict[str, tuple[type[KeyedForm], Action]] = {
        "sign": (SignForm, Action.VERIFY),
        "ask": (AskForm, Action.VERIFY),
        "refuse": (RefuseForm, Action.VERIFY),
        "answer": (AnswerForm, Action.RECORD),
    }
    kind, action = kinds.get(request.POST.get("do", ""), (SignForm, Action.VERIFY))
    require(by, action)
    return kind(request.POST)


def _do(request: HttpRequest, by: Membership, found: ReviewedLog, form: KeyedForm) -> HttpResponse:
    """Do what the form says; after a signature or a refusal comes the next log."""
    about: dict[str, Any] = {"by": by, "subject": found.subject, "now": timezone.now(), **form.cleaned_data}
    match form.name:
        case "sign":
            review_sign(**about)
            messages.success(request, "Signed.")
            return _next(request, by)
        case "refuse":
            review_refuse(**about)
            messages.success(request, "Refused. A deviation is open; the manager has to close it.")
            return _next(request, by)
        case "ask":
            review_ask(**about)
            messages.success(request, "The kitchen is asked.")
        case _:
            review_answer(**about)
            messages.success(request, "The answer is written down.")
    return redirect(request.get_full_path())


def _next(request: HttpRequest, by: Membership) -> HttpResponse:
    """The first log that is left of the list from which this one was opened."""
    query = request.META.get("QUERY_STRING", "")
    everywhere = EVERYWHERE in request.GET
    memberships = memberships_inspecting(user=request.user) if everywhere else [by]
    form = LogsForm(request.GET) if everywhere else KitchenLogsForm(request.GET, choices=review_choices(by=by))
    chosen: ReviewFilter = form.chosen()
    after = logs_to_review(by=memberships, chosen=chosen, now=timezone.now()).first()
    if after is None or chosen.review not in ("waiting", "overdue"):
        return redirect(_back(by, request))
    path = reverse("inspection-log", args=[after.kitchen.code, after.subject.removeprefix("cooling/")])
    return redirect(f"{path}?{query}" if query else path)


def _back(by: Membership, request: HttpRequest) -> str:
    kept = {name: value for name, value in request.GET.items() if name != EVERYWHERE}
    path = reverse("inspections") if EVERYWHERE in request.GET else reverse("inspection", args=[by.kitchen.code])
    return f"{path}?{urlencode(kept)}" if kept else path


def _forms(by: Membership, found: ReviewedLog, refused: KeyedForm | None) -> list[KeyedForm]:
    """What this person can do with the log as it stands; a refused form keeps what was typed."""
    kinds: list[type[KeyedForm]] = []
    state = "waiting" if found.review is None else found.review.state
    if found.may_verify:
        kinds += [] if state == "signed" or found.is_own else [SignForm]
        kinds += [AskForm]
        kinds += [] if state == "refused" else [RefuseForm]
    if may(by, Action.RECORD) and found.review is not None and found.review.asked:
        kinds.append(AnswerForm)
    initial = {"key": request_key(), "seen": found.seen, "meaning": "review"}
    forms = [refused if refused is not None and refused.name == kind.name else kind(initial=initial) for kind in kinds]
    if refused is not None and refused not in forms:
        forms.insert(0, refused)
    return forms


@kitchen_page
@require_safe
def inspection_book(request: HttpRequest, by: Membership) -> HttpResponse:
    """The book: how far it has come, its newest checkpoint, and whether all of it still says what was written."""
    require(by, Action.INSPECT)
    style = style_of(by.kitchen)
    checkpoint = last_checkpoint(by=by)
    context = {
        "check": book_check(kitchen=by.kitchen) if "check" in request.GET else None,
        "checkpoint": checkpoint,
        "signed": style.when(checkpoint.signed_at) if checkpoint else "",
    }
    return page(request, by, "inspection_book.html", context, here="inspection")
