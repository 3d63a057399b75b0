"""How cold the stores are: all of them with a form, and the log of one."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from production.selectors.access import Action, may, require
from production.selectors.care import care_settings
from production.selectors.storage_temps import store_now, store_rows, stores_now
from production.selectors.thermometers import thermometers_now
from production.web.door import kitchen_page, page, request_key
from production.web.forms.care import StoreCorrectForm, StoreTempForm
from production.web.present.care import BESIDE, WHOLE, limit_words, store_card, store_lines
from production.web.style import style_of
from production.web.typed import moment_typed
from production.web.views.care_entries import answer_told, entry_taken

if TYPE_CHECKING:
    from production.models import Membership, StorageReading

WEEK, MONTH, MOST_LINES = timedelta(days=7), timedelta(days=31), 400


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def store_temps(request: HttpRequest, by: Membership) -> HttpResponse:
    """Each store over the last week, and the form for the next reading."""
    require(by, Action.SEE_RECORDS)
    style, status = style_of(by.kitchen), 200
    found = stores_now(by=by, now=style.now, back=WEEK)
    choices = {
        "store": [(each.store.code, f"{each.store.name} ({each.limit.kind})") for each in found],
        "thermometer": thermometer_choices(by),
    }
    form = StoreTempForm(initial={"key": request_key(), "measured": "air"}, choices=choices)
    if request.method == "POST":
        require(by, Action.RECORD)
        form, status = StoreTempForm(request.POST, choices=choices), 422
        if form.is_valid():
            status = _record(request, by, form)
            if not status:
                return redirect("store-temps", by.kitchen.code)
    care = care_settings(kitchen=by.kitchen)
    context = {
        "limits": [limit_words(each, style) for each in (care.store_chilled_c, care.store_frozen_c)],
        "cards": [store_card(each, back=WEEK, size=BESIDE, style=style) for each in found],
        "form": form if may(by, Action.RECORD) and found else None,
        "care": care,
    }
    return page(request, by, "store_temps.html", context, here="store-temps", status=status)


def thermometer_choices(by: Membership) -> list[tuple[str, str]]:
    """The kitchen's thermometers to choose from, with a word where a check is overdue."""
    style = style_of(by.kitchen)
    listed = thermometers_now(by=by, today=style.day_of(style.now))
    told = [(each.code, f"{each.name}, check overdue" if each.is_overdue else each.name) for each in listed]
    return [("", "not named"), *told]


def _record(request: HttpRequest, by: Membership, form: StoreTempForm) -> int:
    typed, now = dict(form.cleaned_data), timezone.now()
    answer = entry_taken(
        by=by,
        kind="storage_temp",
        subject=f"store/{typed['store']}",
        content={name: typed[name] for name in ("temp", "measured", "thermometer")},
        key=typed["key"],
        at=moment_typed(typed["at"], by.kitchen, now),
        now=now,
    )
    return answer_told(request, form, answer, done=f"{typed['temp']} is written down.")


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def store_log(request: HttpRequest, by: Membership, code: str) -> HttpResponse:
    """The log of one store over a month; `fix` names the entry of a reading to correct or to set aside."""
    require(by, Action.SEE_RECORDS)
    style, status, form = style_of(by.kitchen), 200, None
    found = store_now(by=by, code=code, now=style.now, back=MONTH)
    rows = store_rows(by=by, store=found.store, since=style.now - MONTH)
    wrong = rows.filter(entry__number=_number(request.GET.get("fix", "")), excluded=False).first()
    if wrong is not None and may(by, Action.RECORD):
        form = StoreCorrectForm(initial={"key": request_key()})
    if request.method == "POST":
        require(by, Action.RECORD)
        if wrong is None:
            raise Http404("This store has no such reading any more.")
        form, status = StoreCorrectForm(request.POST), 422
        if form.is_valid():
            status = _correct(request, by, wrong, form)
            if not status:
                return redirect("store-log", by.kitchen.code, code)
    context = {
        "card": store_card(found, back=MONTH, size=WHOLE, style=style),
        "lines": store_lines(list(rows[:MOST_LINES]), style),
        "may_record": may(by, Action.RECORD),
        "form": form,
        "wrong": store_lines([wrong], style)[0] if wrong is not None else None,
    }
    return page(request, by, "store_log.html", context, here="store-temps", status=status)


def _number(text: str) -> int:
    return int(text) if text.isdecimal() and len(text) < len("1000000000") else 0


def _correct(request: HttpRequest, by: Membership, wrong: StorageReading, form: StoreCorrectForm) -> int:
    """Another value takes its place; without one it is set aside."""
    typed, now = form.cleaned_data, timezone.now()
    again = {"temp": typed["temp"], "measured": wrong.measured, "unit": wrong.unit} if typed["temp"] else {}
    answer = entry_taken(
        by=by,
        kind="storage_temp" if again else "storage_temp_excluded",
        subject=f"store/{wrong.store.code}",
        content=again,
        key=typed["key"],
        at=now,
        now=now,
        corrects=wrong.entry.key,
        reason=typed["reason"],
    )
    return answer_told(request, form, answer, done="Corrected; what was written first stays, struck through.")
