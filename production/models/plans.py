"""Plans as they were made, and the documents printed from them. Neither is ever edited."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from production.domain.kitchen import PAPERS
from production.models.base import SameKitchen, once, words
from production.models.kitchen import Kitchen
from production.models.weeks import PlanningWeek


class Plan(SameKitchen):
    class Status(models.TextChoices):
        DRAFT = "draft"
        PUBLISHED = "published"
        SUPERSEDED = "superseded"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="plans")
    week = models.ForeignKey(PlanningWeek, on_delete=models.PROTECT, related_name="plans")
    number = models.PositiveIntegerField()
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.DRAFT)
    input_week = models.JSONField()
    input_sha256 = models.CharField(max_length=64)  # of the week as it stood; input_week begins when it was planned
    parameter_set_version = models.CharField(max_length=80)
    result = models.JSONField()
    result_sha256 = models.CharField(max_length=64)
    solver_status = models.CharField(max_length=40)
    seconds = models.FloatField()
    seed = models.BigIntegerField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("-number",)
        constraints = [
            once("plan", "week", "number"),
            models.UniqueConstraint(
                fields=["week"], condition=Q(status="published"), name="plan_one_published_per_week"
            ),
            models.CheckConstraint(
                condition=Q(status__in=["draft", "published", "superseded"]), name="plan_status_allowed"
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="plan_number_from_1"),
            models.CheckConstraint(condition=Q(seconds__gte=0), name="plan_seconds_not_negative"),
        ]

    def __str__(self) -> str:
        return f"Plan {self.number} of {self.week} ({self.status})"


class Document(SameKitchen):
    """One printed version; a changed one is a new row that names the row it replaces."""

    class Kind(models.TextChoices):
        BATCH_SHEET = "batch_sheet"
        COOLING_LOG = "cooling_log"
        PURCHASE_LIST = "purchase_list"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="documents")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    key = models.CharField(max_length=120)
    version = models.PositiveIntegerField()
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    title = models.CharField(max_length=200)
    paper = models.CharField(max_length=12, choices=words(PAPERS))
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    pdf = models.BinaryField()
    pages = models.PositiveIntegerField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("kind", "key", "-version")
        constraints = [
            once("document", "plan", "kind", "key", "version"),
            models.CheckConstraint(
                condition=Q(kind__in=["batch_sheet", "cooling_log", "purchase_list"]), name="document_kind_allowed"
            ),
            models.CheckConstraint(condition=Q(paper__in=list(PAPERS)), name="document_paper_allowed"),
            models.CheckConstraint(condition=Q(pages__gte=1), name="document_has_pages"),
            models.CheckConstraint(
                condition=Q(version=1, replaces__isnull=True) | Q(version__gte=2, replaces__isnull=False),
                name="document_names_what_it_replaces",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}, version {self.version}"
