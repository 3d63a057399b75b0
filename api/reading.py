"""Reading requests: bodies of a bounded size, keys against asking twice, pages of a list."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.request import Request

from api.errors import TooLarge
from production.domain.week_file import LARGEST_BYTES

SMALL_BYTES = 64 * 1024
_KEY = re.compile(r"[\x21-\x7e]{1,80}")


class SmallJson(BaseParser):
    """A JSON body of at most 64 KiB."""

    media_type = "application/json"
    largest_bytes = SMALL_BYTES

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        content = _read(stream, parser_context, largest=self.largest_bytes)
        try:
            value = json.loads(content.decode("utf-8"), parse_constant=_refuse_constant)
            json.dumps(value, ensure_ascii=False).encode("utf-8")  # halves of surrogate pairs cannot be written again
        except RecursionError:
            raise ParseError("The body is nested too deeply.") from None
        except ValueError as error:
            raise ParseError(f"The body is not JSON: {error}.") from None
        return value


class WeekFileBytes(BaseParser):
    """A week file, left to its own reader, which tells all problems at once."""

    media_type = "application/json"

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Mapping[str, bytes]:
        return {"content": _read(stream, parser_context, largest=LARGEST_BYTES)}


def week_file_of(request: Request) -> bytes:
    """The week file that WeekFileBytes has read; empty when there was no body."""
    content: bytes = request.data["content"] if isinstance(request.data, dict) and request.data else b""
    return content


def _read(stream: IO[Any], parser_context: Mapping[str, Any] | None, *, largest: int) -> bytes:
    announced = int(parser_context["request"].META["CONTENT_LENGTH"]) if parser_context else 0
    content = b"" if announced > largest else bytes(stream.read(largest + 1))
    if announced > largest or len(content) > largest:
        raise TooLarge(f"The body is longer than the {largest // 1024} KiB that this address takes.")
    return content


def _refuse_constant(text: str) -> float:
    raise ValueError(f"{text} is not a JSON number")


def idempotency_key(request: Request) -> str:
    """The key with which the same request may be sent again without being done again; empty when none is sent."""
    key: str = request.headers.get("Idempotency-Key", "")
    if key and not _KEY.fullmatch(key):
        raise ParseError("Idempotency-Key has 1 to 80 printable ASCII characters without spaces.")
    return key
