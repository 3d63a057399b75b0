"""Taking the records out: a package for some days, made by a worker, and what was made before."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from production.domain.errors import OutOfRange
from production.selectors.access import Action, require
from production.selectors.exports import export_of, exports_of
from production.services.exports import records_export_request
from production.web.door import kitchen_page, page, request_key
from production.web.forms.exports import ExportForm
from production.web.present.exports import export_rows
from production.web.style import style_of

if TYPE_CHECKING:
    from production.models import Membership

A_MONTH = timedelta(days=30)


@kitchen_page
@require_http_methods(["GET", "HEAD", "POST"])
def exports(request: HttpRequest, by: Membership) -> HttpResponse:
    """Ask for a package, and take one that is ready."""
    require(by, Action.EXPORT_RECORDS)
    style = style_of(by.kitchen)
    today = style.day_of(timezone.now())
    form = ExportForm(
        request.POST or None, initial={"first_day": today - A_MONTH, "last_day": today, "key": request_key()}
    )
    if request.method == "POST" and form.is_valid():
        first_day, last_day = form.days()
        key = f"export-{form.cleaned_data['key']}"
        try:
            job_id = records_export_request(by=by, first_day=first_day, last_day=last_day, idempotency_key=key)
            return redirect("job", by.kitchen.code, job_id)
        except OutOfRange as error:
            form.add_error(None, f"{error.sentence} {error.remedy}")
    context = {"form": form, "rows": export_rows(exports_of(by=by), style=style)}
    return page(request, by, "exports.html", context, here="inspection", status=422 if form.errors else 200)


@kitchen_page
@require_safe
def export_file(request: HttpRequest, by: Membership, job_id: int) -> FileResponse:
    """The package itself, read from its file piece by piece."""
    made = export_of(by=by, job_id=job_id)
    return FileResponse(made.path.open("rb"), as_attachment=True, filename=made.name, content_type="application/zip")
