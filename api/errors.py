"""Every refusal as problem details (RFC 9457)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any

from django.http import Http404, HttpResponseBase, JsonResponse
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.utils.encoders import JSONEncoder

from production.domain.errors import BadWeekFile, Conflict, NotAllowed, PotwrightError

MEDIA_TYPE = "application/problem+json"
TITLES: Mapping[int, str] = MappingProxyType(
    {
        400: "The request cannot be read",
        401: "Sign in first",
        403: "Not yours to do",
        404: "Nothing here",
        405: "This address does not do that",
        409: "Somebody was faster",
        413: "Too large",
        415: "Not in this form",
        422: "That did not work",
        429: "Too often",
    }
)
_CODES: Mapping[int, str] = MappingProxyType(
    {
        400: "bad-request",
        401: "not-signed-in",
        403: "not-allowed",
        404: "not-found",
        405: "wrong-method",
        413: "too-large",
        415: "wrong-content-type",
        429: "too-often",
    }
)
_REMEDIES: Mapping[int, str] = MappingProxyType(
    {
        400: "Correct the request and send it again.",
        401: "Sign in at /api/v1/sign-in and send the token with every request.",
        404: "Check the address; what is not yours cannot be found either.",
        405: "The Allow header lists what it does.",
        415: "Send application/json.",
        429: "Wait as long as the Retry-After header says.",
    }
)


class TooLarge(APIException):
    """A body is longer than this address takes."""

    status_code = 413


class WrongSignIn(APIException):
    """Name and password do not belong together."""

    status_code = 401
    default_detail = "Name and password do not belong together, or the person may no longer sign in."
    auth_header = "Token"


def problem_handler(error: Exception, context: Mapping[str, Any]) -> HttpResponseBase | None:
    """Answer a refusal; what is not a refusal is a fault and stays one."""
    match error:
        case PotwrightError():
            listed = error.problems if isinstance(error, BadWeekFile) else ()
            return _problem(
                _status_of(error),
                code=error.code,
                detail=error.sentence,
                remedy=error.remedy,
                numbers=error.numbers,
                problems=[asdict(each) for each in listed],
            )
        case Http404():
            return _problem(404, detail=str(error) or "There is nothing at this address.")
        case ValidationError():
            problems = [{"pointer": pointer, "sentence": text} for pointer, text in _misfits(error.detail, "")]
            return _problem(400, detail="The request does not have the expected form.", problems=problems)
        case APIException():
            return _framework_problem(error)
    return None


def _status_of(error: PotwrightError) -> int:
    match error:
        case NotAllowed():
            return 403
        case Conflict():
            return 409
        case _:
            return 422


def _framework_problem(error: APIException) -> JsonResponse:
    response = _problem(error.status_code, detail=str(error.detail))
    auth_header = getattr(error, "auth_header", None)
    if auth_header:
        response["WWW-Authenticate"] = auth_header
    wait = getattr(error, "wait", None)
    if wait is not None:
        response["Retry-After"] = str(math.ceil(wait))
    return response


def _problem(
    status: int,
    *,
    detail: str,
    code: str = "",
    remedy: str = "",
    numbers: Mapping[str, object] | None = None,
    problems: list[dict[str, str]] | None = None,
) -> JsonResponse:
    code = code or _CODES[status]
    content = {
        "type": f"urn:potwright:problem:{code}",
        "title": TITLES[status],
        "status": status,
        "detail": detail,
        "code": code,
        "numbers": _finite(numbers or {}),
        "remedy": remedy or _REMEDIES.get(status, ""),
    }
    if problems:
        content["problems"] = problems
    return JsonResponse(
        content, encoder=JSONEncoder, status=status, content_type=MEDIA_TYPE, headers={"Cache-Control": "no-store"}
    )


def _finite(value: object) -> object:
    """JSON knows no infinity; it is told as text."""
    match value:
        case float() if not math.isfinite(value):
            return str(value)
        case Mapping():
            return {str(key): _finite(entry) for key, entry in value.items()}
        case list() | tuple():
            return [_finite(entry) for entry in value]
        case _:
            return value


def _misfits(detail: Any, pointer: str) -> Iterator[tuple[str, str]]:
    """JSON pointer and sentence of everything a serializer complains about."""
    match detail:
        case Mapping():
            for key, below in detail.items():
                step = str(key).replace("~", "~0").replace("/", "~1")
                yield from _misfits(below, pointer if key == "non_field_errors" else f"{pointer}/{step}")
        case list():
            for below in detail:
                yield from _misfits(below, pointer)
        case _:
            yield pointer, str(detail)
