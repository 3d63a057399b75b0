"""Where food came from and where it went; recall drills."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from production.domain.errors import PotwrightError
from production.domain.records.drills import Answered
from production.selectors.access import Action, may, require
from production.selectors.drills import drill_of, drills_of
from production.selectors.trace import trace_of, trace_search
from production.services.drills import drill_begin, drill_finish, drill_give_up
from production.services.papers_now import trace_paper
from production.web.door import kitchen_page, page, request_key
from production.web.forms.trace import FinishForm, GiveUpForm, PeriodForm
from production.web.present.trace import drill_row, found_rows, thread_context
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership
    from production.web.forms.lots import KeyedForm


@kitchen_page
@require_safe
def trace(request: HttpRequest, by: Membership) -> HttpResponse:
    """Find what is to be traced, and the drills there were; one exact hit opens at once."""
    text = request.GET.get("find", "").strip()[:120]
    found = trace_search(by=by, text=text)
    exact = [each for each in found if each.is_exact]
    if len(exact) == 1:
        return redirect("trace-thread", by.kitchen.code, exact[0].node.key)
    style = style_of(by.kitchen)
    context = {
        "find": text,
        "found": found_rows(found),
        "drills": [drill_row(drill=each, style=style) for each in drills_of(by=by)],
        "may_record": may(by, Action.RECORD),
        "key": request_key(),
    }
    return page(request, by, "trace.html", context, here="trace")


@kitchen_page
@require_safe
def trace_thread(request: HttpRequest, by: Membership, key: str) -> HttpResponse:
    """The whole thread of one thing."""
    since, until = PeriodForm(request.GET).chosen()
    report = trace_of(by=by, key=key, now=timezone.now(), since=since, until=until)
    context = thread_context(report=report, kitchen=by.kitchen.code) | {
        "key": key,
        "form": PeriodForm(initial={"since": report.since, "until": report.until}),
        "query": request.GET.urlencode(),
        "may_record": may(by, Action.RECORD),
        "request_key": request_key(),
    }
    return page(request, by, "trace_thread.html", context, here="trace")


@kitchen_page
@require_safe
def trace_pdf(request: HttpRequest, by: Membership, key: str) -> HttpResponse:
    """The report on paper."""
    since, until = PeriodForm(request.GET).chosen()
    pdf = trace_paper(by=by, key=key, now=timezone.now(), since=since, until=until)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="trace.pdf"'
    return answer


@kitchen_page
@require_POST
def drills_begin(request: HttpRequest, by: Membership) -> HttpResponse:
    """Begin a drill, for something named or chosen by lot."""
    require(by, Action.RECORD)
    key, target = request.POST.get("key", "")[:70] or request_key(), request.POST.get("target", "")[:160]
    drill = drill_begin(by=by, key=key, now=timezone.now(), target=target)
    return redirect("drill", by.kitchen.code, drill.number)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def drill(request: HttpRequest, by: Membership, number: int) -> HttpResponse:
    """One drill: what is asked, and the form of the answer; afterwards its result."""
    status, forms = 200, _forms()
    if request.method == "POST":
        require(by, Action.RECORD)
        sent = next((form for form in _forms(request) if form.name == request.POST.get("do")), None)
        if sent is None:
            raise Http404("There is nothing like that to do to a drill.")
        if sent.is_valid() and _done(by, number, sent):
            messages.success(request, f"Drill {number} is ended.")
            return redirect("drill", by.kitchen.code, number)
        status, forms = 422, [sent if sent.name == each.name else each for each in forms]
    row = drill_of(by=by, number=number)
    context = {
        "drill": row,
        "row": drill_row(drill=row, style=style_of(by.kitchen)),
        "forms": forms if row.done_at is None and may(by, Action.RECORD) else [],
    }
    return page(request, by, "drill.html", context, here="trace", status=status)


def _forms(request: HttpRequest | None = None) -> list[KeyedForm]:
    kinds: tuple[type[KeyedForm], ...] = (FinishForm, GiveUpForm)
    if request is not None:
        return [kind(request.POST) for kind in kinds]
    return [kind(initial={"key": request_key()}) for kind in kinds]


def _done(by: Membership, number: int, form: KeyedForm) -> bool:
    """End the drill as the form says; a refusal is put where it was typed."""
    said, now = dict(form.cleaned_data), timezone.now()
    key = said.pop("key")
    try:
        if form.name == "finish":
            drill_finish(by=by, number=number, answered=Answered(**said), key=key, now=now)
        else:
            drill_give_up(by=by, number=number, reason=said["reason"], key=key, now=now)
    except PotwrightError as error:
        form.add_error(None, f"{error.sentence} {error.remedy}".strip())
        return False
    return True
