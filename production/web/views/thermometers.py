"""Thermometers: the list, one with its checks, and what a failed check puts in doubt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import PotwrightError
from production.selectors.access import Action, may, require
from production.selectors.care import care_settings
from production.selectors.thermometer_checks import (
    check_of,
    checks_of,
    doubtful_since,
    last_checks,
    newest_check,
    thermometer_of,
)
from production.selectors.thermometers import thermometers_now
from production.services.thermometers import thermometer_add, thermometer_correct, thermometer_retire
from production.web.door import kitchen_page, page, request_key
from production.web.forms.care import AddThermometerForm, CareForm, CheckForm, CorrectForm, RetireForm, TakeBackForm
from production.web.present.care import check_row, doubt_page, due_words, off_words, scale_words, thermometer_row
from production.web.style import style_of
from production.web.typed import refuse
from production.web.views.care_entries import answer_told, entry_taken

if TYPE_CHECKING:
    from production.models import Membership, Thermometer


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def thermometers(request: HttpRequest, by: Membership) -> HttpResponse:
    """All in use with how their checks stand, and the form to add one."""
    require(by, Action.SEE_RECORDS)
    form, status = AddThermometerForm(initial={"key": request_key()}), 200
    if request.method == "POST":
        require(by, Action.KEEP_THERMOMETERS)
        form, status = AddThermometerForm(request.POST), 422
        if form.is_valid():
            try:
                row = _added(by, form.cleaned_data)
            except PotwrightError as error:
                status = refuse(form, error)
            else:
                messages.success(request, f"{row.name} is on the list. Check it before it is used.")
                return redirect("thermometer", by.kitchen.code, row.code)
    style, last = style_of(by.kitchen), last_checks(by=by)
    found = thermometers_now(by=by, today=style.day_of(style.now))
    context = {
        "rows": [thermometer_row(each, last=last.get(each.code), style=style) for each in found],
        "form": form if may(by, Action.KEEP_THERMOMETERS) else None,
        "care": care_settings(kitchen=by.kitchen),
    }
    return page(request, by, "thermometers.html", context, here="thermometers", status=status)


def _added(by: Membership, typed: Mapping[str, Any]) -> Thermometer:
    return thermometer_add(
        by=by,
        code=typed["code"],
        name=typed["called"],
        kind=typed["kind"],
        unit="F" if typed["scale"] == "F" else "C",
        both_scales=typed["scale"] == "both",
        check_due_on=None,
        key=typed["key"],
        now=timezone.now(),
    )


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def thermometer(request: HttpRequest, by: Membership, code: str) -> HttpResponse:
    """One thermometer: check it, correct it, take it out of use; all its checks."""
    row, status = thermometer_of(by=by, code=code), 200
    forms = _forms(by, row, None)
    if request.method == "POST":
        forms = _forms(by, row, request.POST)
        form = next((each for each in forms if each.is_bound), None)
        if form is None:
            require(by, Action.RECORD)
            raise Http404("There is nothing like that to do to a thermometer.")
        status = _do(request, by, row, form) if form.is_valid() else 422
        if not status:
            return redirect("thermometer", by.kitchen.code, code)
        row = thermometer_of(by=by, code=code)
    style, care = style_of(by.kitchen), care_settings(kitchen=by.kitchen)
    context = {
        "thermometer": row,
        "correction": off_words(f"{row.correction.normalize():f}", row.unit) if row.correction else "",
        "scale": scale_words(row.unit, both=row.both_scales),
        "due": due_words(row.check_due_on, style.day_of(style.now)),
        "due_day": style.day(row.check_due_on) if row.check_due_on else "",
        "checks": [check_row(each, style) for each in checks_of(by=by, thermometer=row)[:100]],
        "forms": forms,
        "care": care,
    }
    return page(request, by, "thermometer.html", context, here="thermometers", status=status)


def _forms(by: Membership, row: Thermometer, posted: Any) -> list[CareForm]:
    """What this person may do with it; the one that was sent is filled."""
    offered: list[type[CareForm]] = []
    if not row.retired:
        offered += [CheckForm] if may(by, Action.RECORD) else []
        offered += [TakeBackForm] if may(by, Action.RECORD) and newest_check(by=by, thermometer=row) else []
        offered += [CorrectForm, RetireForm] if may(by, Action.KEEP_THERMOMETERS) else []
    sent, initial = (posted or {}).get("do"), {"key": request_key(), "method": "ice"}
    return [made(posted) if made.name == sent else made(initial=initial) for made in offered]


def _do(request: HttpRequest, by: Membership, row: Thermometer, form: CareForm) -> int:
    typed, now = dict(form.cleaned_data), timezone.now()
    if form.name == "check":
        key = typed.pop("key")
        answer = entry_taken(
            by=by,
            kind="thermometer_checked",
            subject=f"thermometer/{row.code}",
            content=typed,
            key=key,
            at=now,
            now=now,
        )
        return answer_told(request, form, answer, done="The check is written down.")
    if form.name == "back":
        return _take_back(request, by, row, form)
    try:
        if form.name == "correct":
            thermometer_correct(by=by, code=row.code, now=now, **typed)
            messages.success(request, "Later readings carry the correction.")
        else:
            thermometer_retire(by=by, code=row.code, now=now, **typed)
            messages.success(request, f"{row.name} is out of use.")
    except PotwrightError as error:
        return refuse(form, error)
    return 0


def _take_back(request: HttpRequest, by: Membership, row: Thermometer, form: CareForm) -> int:
    newest, now = newest_check(by=by, thermometer=row), timezone.now()
    if newest is None:
        raise Http404("This thermometer has no check.")
    answer = entry_taken(
        by=by,
        kind="thermometer_check_withdrawn",
        subject=f"thermometer/{row.code}",
        content={},
        key=form.cleaned_data["key"],
        at=now,
        now=now,
        corrects=newest.entry.key,
        reason=form.cleaned_data["reason"],
    )
    return answer_told(request, form, answer, done="The check is taken back.")


@kitchen_page
@require_safe
def thermometer_doubt(request: HttpRequest, by: Membership, code: str, number: int) -> HttpResponse:
    """What was measured with it since the last good check, and what it would be with the error taken out."""
    check, style = check_of(by=by, code=code, number=number), style_of(by.kitchen)
    context = {
        "thermometer": check.thermometer,
        "check": check_row(check, style),
        "doubt": doubt_page(doubtful_since(check=check, now=style.now), style),
    }
    return page(request, by, "thermometer_doubt.html", context, here="thermometers")
