"""What all rows share: the kitchen they belong to, and limits taken from the domain's own description of its fields."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import Field, fields
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.deconstruct import deconstructible


def words(allowed: Iterable[str]) -> list[tuple[str, str]]:
    """Choices whose label is the word itself."""
    return [(word, word.replace("_", " ")) for word in allowed]


def limits(entry: type, *, table: str, prefix: str = "") -> list[models.BaseConstraint]:
    """The bounds and words that the domain allows for each field, as constraints of the database."""
    return [
        models.CheckConstraint(
            condition=condition,
            name=f"{table}_{prefix}{each.name}_allowed",
            violation_error_message=f"{prefix}{each.name}: {sentence}",
        )
        for each in fields(entry)
        for condition, sentence in _limit(each, f"{prefix}{each.name}")
    ]


def _limit(each: Field[Any], column: str) -> list[tuple[Q, str]]:
    kind = each.metadata["kind"]
    if kind in {"quantity", "count", "money"}:
        low, high = each.metadata["low"], each.metadata["high"]
        unit = each.metadata.get("unit", "")
        return [(Q(**{f"{column}__gte": low, f"{column}__lte": high}), f"allowed are {low} to {high} {unit}".rstrip())]
    if kind == "choice":
        choices = each.metadata["choices"]
        return [(Q(**{f"{column}__in": list(choices)}), f"allowed are {', '.join(choices)}")]
    return []


@deconstructible
class WordsOf:
    """Refuse a list that holds anything but the given words, each once."""

    def __init__(self, allowed: Iterable[object]) -> None:
        self.allowed = tuple(allowed)

    def __call__(self, value: object) -> None:
        if not isinstance(value, list):
            raise ValidationError("This must be a list.", code="not-a-list")
        strange = [str(word) for word in value if word not in self.allowed]
        if strange:
            raise ValidationError(
                f"Not known: {', '.join(strange)}. Allowed are {', '.join(map(str, self.allowed))}.",
                code="unknown-word",
            )
        if len(set(value)) != len(value):
            raise ValidationError("Every word may stand once only.", code="repeated-word")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, WordsOf) and other.allowed == self.allowed

    def __hash__(self) -> int:
        return hash(self.allowed)


class SameKitchen(models.Model):
    """A row that may only refer to rows of its own kitchen."""

    class Meta:
        abstract = True

    def owner_id(self) -> int | None:
        """The kitchen this row belongs to, directly or through its week, pot or formula."""
        for name in ("kitchen_id", "week", "pot", "formula", "plan"):
            value = getattr(self, name, None)
            if isinstance(value, int):
                return value
            if isinstance(value, SameKitchen):
                return value.owner_id()
        return None

    def clean(self) -> None:
        super().clean()
        owner = self.owner_id()
        for each in self._meta.concrete_fields:
            if not each.is_relation or getattr(self, each.attname) is None:
                continue
            target = getattr(self, each.name)
            if isinstance(target, SameKitchen) and target.owner_id() != owner:
                raise ValidationError({each.name: "This belongs to another kitchen."}, code="other-kitchen")


class KitchenRow(SameKitchen):
    """An entry of a kitchen's set-up or catalogue, known by its code, in the order of the week file.

    A retired row is no longer part of the catalogue but stays for the weeks that still refer to it.
    """

    kitchen = models.ForeignKey("production.Kitchen", on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=40)
    position = models.PositiveIntegerField(default=0)
    retired = models.BooleanField(default=False)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return str(getattr(self, "name", "") or self.code)


class WeekRow(SameKitchen):
    """An entry that belongs to one planning week, in the order of the week file."""

    week = models.ForeignKey("production.PlanningWeek", on_delete=models.CASCADE, related_name="+")
    position = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True


class PartRow(SameKitchen):
    """A part of a pot or formula; it lives and goes with its owner."""

    position = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True
        ordering = ("position", "pk")


def once(table: str, *columns: str) -> models.UniqueConstraint:
    """These columns together name one row."""
    return models.UniqueConstraint(fields=columns, name=f"{table}_once_per_{'_'.join(columns)}")
