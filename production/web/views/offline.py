"""What lets the floor pages work without a network: the worker that keeps them, and the pulse of the server."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from production.selectors.access import Action, require
from production.selectors.record_book import book_size
from production.web.door import kitchen_page

if TYPE_CHECKING:
    from production.models import Membership

_WORKER = "js/floor-worker.js"
_ASSETS = (
    "css/tokens.css",
    "css/pages.css",
    "css/floor.css",
    "js/floor-queue.js",
    "js/floor.js",
    "fonts/potwright-sans-400.woff2",
    "fonts/potwright-sans-600.woff2",
    "mark.svg",
)


@kitchen_page
@require_safe
def worker(request: HttpRequest, by: Membership) -> HttpResponse:
    """The script that keeps this kitchen's floor pages; its own address is what it may keep."""
    code = by.kitchen.code
    told = {
        "version": _version(),
        "assets": [static(path) for path in _ASSETS],
        "home": reverse("floor", args=[code]),
        "quiet": [reverse(name, args=[code]) for name in ("floor-worker", "floor-pulse")],
    }
    script = f"const FLOOR = {json.dumps(told)};\n{_text(_WORKER)}"
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")


@kitchen_page
@require_safe
def pulse(request: HttpRequest, by: Membership) -> JsonResponse:
    """Who is signed in, what time it is, whether anything was recorded since, and a fresh token for sending."""
    require(by, Action.SEE_RECORDS)
    now = timezone.now()
    told = {
        "person": by.user_id,
        "token": get_token(request),
        "server_now": now.isoformat(),
        "book": book_size(by=by),
    }
    return JsonResponse(told)


@cache
def _version() -> str:
    """Changes when any of the files changes."""
    content = "".join(hashlib.sha256(_path(path).read_bytes()).hexdigest() for path in (*_ASSETS, _WORKER))
    return hashlib.sha256(content.encode()).hexdigest()[:12]


def _text(path: str) -> str:
    return _path(path).read_text(encoding="utf-8")


def _path(path: str) -> Path:
    found = finders.find(path)
    if not isinstance(found, str):
        raise FileNotFoundError(path)
    return Path(found)
