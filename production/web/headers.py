"""What every answer tells the browser about itself."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

POLICY = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"


def content_security_policy(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Scripts, styles, pictures and fonts come from here, from files; nothing inline runs."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers["Content-Security-Policy"] = POLICY
        return response

    return answer
