"""Long lists come in pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.serializers import PageQuery


def paged(entry: type[serializers.Serializer[Any]]) -> serializers.Serializer[Any]:
    """The form of a page of such entries."""
    return inline_serializer(
        f"{entry.__name__.removesuffix('Out')}Page",
        {
            "total": serializers.IntegerField(),
            "page": serializers.IntegerField(),
            "size": serializers.IntegerField(),
            "entries": entry(many=True),
        },
    )


def page_of(
    request: Request, entries: QuerySet[Any] | Sequence[Any], entry: type[serializers.Serializer[Any]]
) -> Response:
    """The page that the request asks for; pages past the end are empty."""
    query = PageQuery(data=request.query_params)
    query.is_valid(raise_exception=True)
    page, size = query.validated_data["page"], query.validated_data["size"]
    total = entries.count() if isinstance(entries, QuerySet) else len(entries)
    shown = entries[(page - 1) * size : page * size]
    return Response({"total": total, "page": page, "size": size, "entries": entry(shown, many=True).data})
