"""How often somebody may try to sign in, on the pages and in the API together."""

from __future__ import annotations

import hashlib
import math
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle


class PerPerson(SimpleRateThrottle):
    """How often one name may be tried, from wherever."""

    scope = "sign-in-person"
    rate = "10/min"

    def get_cache_key(self, request: Request | HttpRequest, view: Any) -> str:
        sent = request.data if isinstance(request, Request) else request.POST
        name = str(sent.get("username", "")) if isinstance(sent, dict) else ""
        digest = hashlib.sha256(name.strip().lower().encode()).hexdigest()
        return self.cache_format % {"scope": self.scope, "ident": digest}


class PerAddress(SimpleRateThrottle):
    """How often one network address may try. A header that tells another address counts only behind an own proxy."""

    scope = "sign-in-address"
    rate = "60/min"

    def get_cache_key(self, request: Request | HttpRequest, view: Any) -> str:
        return self.cache_format % {"scope": self.scope, "ident": self.get_ident(request)}  # type: ignore[arg-type]


def sign_in_wait_s(*, request: HttpRequest) -> int:
    """Count an attempt; 0 lets it through, else so many seconds have to pass first."""
    limits = [PerPerson(), PerAddress()]
    refusing = [limit for limit in limits if not limit.allow_request(request, None)]  # type: ignore[arg-type]
    return max((math.ceil(limit.wait() or 60) for limit in refusing), default=0)
