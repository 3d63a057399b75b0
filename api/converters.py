"""What may stand at a place in an address; anything else is an address that does not exist."""

from __future__ import annotations

from datetime import date

from django.urls import register_converter


class DayConverter:
    """A day: 2027-02-01."""

    regex = "[0-9]{4}-[0-9]{2}-[0-9]{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date) -> str:
        return value.isoformat()


class CodeConverter:
    """A code as in the week file."""

    regex = "[A-Za-z0-9][A-Za-z0-9._-]{0,39}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class PlanNumberConverter:
    """The number of a plan, or `newest`."""

    regex = "newest|[1-9][0-9]{0,8}"

    def to_python(self, value: str) -> int | None:
        return None if value == "newest" else int(value)

    def to_url(self, value: int | None) -> str:
        return "newest" if value is None else str(value)


class RowConverter:
    """The id of a job or a document."""

    regex = "[1-9][0-9]{0,17}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return str(value)


def register() -> None:
    """Make the converters known under the names that the addresses use."""
    register_converter(DayConverter, "api_day")
    register_converter(CodeConverter, "api_code")
    register_converter(PlanNumberConverter, "api_plan")
    register_converter(RowConverter, "api_row")
