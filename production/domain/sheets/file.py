"""Content of the papers as JSON and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Any, cast

from pydantic import TypeAdapter

from production.domain.sheets.batch_record import CompletedBatchRecord
from production.domain.sheets.content import (
    BatchSheet,
    CompletedCoolingLog,
    Content,
    CoolingLog,
    DispatchNote,
    LabelSheet,
    PurchaseList,
    WeekOverview,
)


@cache
def _adapter() -> TypeAdapter[Content]:
    return TypeAdapter(Content)


def content_to_json(content: Content) -> dict[str, Any]:
    """A document's content as plain JSON values, to be frozen in a row.

    Equation: fields as they are; instants in ISO 8601, money and limits as decimal text.
    Units: content (record; every field names its unit); returns plain values.
    Valid: every content.
    Errors: none.
    Source: own format.
    """
    return cast(dict[str, Any], _adapter().dump_python(content, mode="json"))


def issued(content: Content, *, version: int, replaces: int | None, at: datetime) -> Content:
    """The content as it is issued: which version, in place of which, and when.

    Equation: the heading with the three fields set.
    Units: content (record), version (count), replaces (count or none), at [instant]; returns a record.
    Valid: every content.
    Errors: none.
    Source: own definition.
    """
    return replace(content, heading=replace(content.heading, version=version, replaces=replaces, issued_at=at))


def content_from_json(data: Mapping[str, Any]) -> Content:
    """Read a document's content back.

    Equation: the inverse of content_to_json; the kind says which.
    Units: data (plain values); returns a record.
    Valid: contents written by this version.
    Errors: pydantic's ValidationError for broken data.
    Source: own format.
    """
    return _reader(data["kind"]).validate_python(data)


@cache
def _reader(kind: str) -> TypeAdapter[Content]:
    """Working out how a content is read takes longer than reading it."""
    return TypeAdapter(_OF_KIND[kind])


_OF_KIND: Mapping[str, type[Content]] = {
    "batch_sheet": BatchSheet,
    "cooling_log": CoolingLog,
    "purchase_list": PurchaseList,
    "week_overview": WeekOverview,
    "label_sheet": LabelSheet,
    "dispatch_note": DispatchNote,
    "completed_cooling_log": CompletedCoolingLog,
    "completed_batch_record": CompletedBatchRecord,
}
