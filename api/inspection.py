"""The forms of inspection: logs to review, deviations, what is done about them."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.lots import KeyedBody
from api.serializers import Out, PageQuery
from production.domain.records.actions import Kind
from production.domain.records.reviews import DISPOSITIONS, PUT_RIGHT

REVIEWS = ("waiting", "overdue", "asked", "lost", "signed", "refused", "all")
REVIEW_STATES = ("waiting", "signed", "lost", "refused")
VERDICTS = ("met", "breached", "not_shown")
DEVIATED = ("open", "closed", "none")
DEVIATION_KINDS = ("cooling", "late_log", "thermometer", "storage", "receipt", "review")
DEVIATION_STATES = ("open", "closed")
MEASURES = (*(each.value for each in Kind), PUT_RIGHT)


class ReviewsQuery(PageQuery):
    review = serializers.ChoiceField(REVIEWS, default="waiting")
    since = serializers.DateField(required=False, help_text="closed on this day or later, by the kitchen's clock")
    until = serializers.DateField(required=False)
    verdict = serializers.ChoiceField(VERDICTS, required=False)
    deviation = serializers.ChoiceField(DEVIATED, required=False)
    formula = serializers.CharField(max_length=120, required=False)
    product = serializers.CharField(max_length=40, required=False)
    pot = serializers.CharField(max_length=40, required=False)
    device = serializers.CharField(max_length=40, required=False)


class ReviewOut(Out):
    subject = serializers.CharField(help_text="of the entries of the log")
    run = serializers.CharField(source="run.subject")
    draw = serializers.CharField()
    attempt = serializers.IntegerField()
    formula = serializers.SerializerMethodField()
    rule = serializers.CharField()
    opened_at = serializers.DateTimeField()
    closed_at = serializers.DateTimeField()
    verdict = serializers.ChoiceField(VERDICTS)
    review = serializers.SerializerMethodField()
    signed_by = serializers.SerializerMethodField()
    deviations = serializers.SerializerMethodField()
    lots = serializers.SerializerMethodField()

    def get_formula(self, row: Any) -> str:
        return str(row.sheet.get("formula", ""))

    def get_review(self, row: Any) -> str:
        review = getattr(row, "review", None)
        return "waiting" if review is None else review.state

    def get_signed_by(self, row: Any) -> str:
        review = getattr(row, "review", None)
        return str(review.signature.by_name) if review is not None and review.state == "signed" else ""

    def get_deviations(self, row: Any) -> list[int]:
        return [each.number for each in row.deviations.all()]

    def get_lots(self, row: Any) -> list[str]:
        return [each.code for each in row.lots.all()]


class DeviationsQuery(PageQuery):
    state = serializers.ChoiceField((*DEVIATION_STATES, "overdue"), required=False)
    kind = serializers.ChoiceField(DEVIATION_KINDS, required=False)
    verdict = serializers.ChoiceField(("breached", "not_shown"), required=False, help_text="of the log it is about")
    since = serializers.DateField(required=False, help_text="found on this day or later, by the kitchen's clock")
    until = serializers.DateField(required=False)


class DeviationOut(Out):
    number = serializers.IntegerField()
    kind = serializers.ChoiceField(DEVIATION_KINDS)
    about = serializers.CharField(help_text="subject of the entries it is about")
    sentence = serializers.CharField()
    opened_at = serializers.DateTimeField()
    due_on = serializers.DateField(help_text="last day for its review")
    state = serializers.ChoiceField(DEVIATION_STATES)
    disposition = serializers.CharField(help_text="discard, release, reheat or none; empty while it is open")
    closed_at = serializers.DateTimeField(allow_null=True)
    entry = serializers.IntegerField(source="opened_by.number", help_text="where it was opened in the book")
    closing = serializers.SerializerMethodField()

    def get_closing(self, row: Any) -> dict[str, Any]:
        return {} if row.closed_by is None else dict(row.closed_by.content)


class DeviationActionBody(KeyedBody):
    """What was done about a deviation: only what the rule allows, or putting right its cause."""

    measure = serializers.ChoiceField(MEASURES)
    what = serializers.CharField(max_length=1000)
    numbers = serializers.CharField(max_length=300, default="", allow_blank=True)
    witness = serializers.CharField(max_length=120, default="", allow_blank=True)


class DeviationClosingBody(KeyedBody):
    """All that a manager tells: a witness where food is thrown away, an evaluation where it is released."""

    cause = serializers.CharField(max_length=1000)
    prevention = serializers.CharField(max_length=1000)
    disposition = serializers.ChoiceField(tuple(DISPOSITIONS))
    quantity = serializers.CharField(max_length=120, default="", allow_blank=True)
    witness = serializers.CharField(max_length=120, default="", allow_blank=True)
    evaluation = serializers.CharField(max_length=1000, default="", allow_blank=True)


class EntryNumberOut(Out):
    entry = serializers.IntegerField(source="number", help_text="in the book")
