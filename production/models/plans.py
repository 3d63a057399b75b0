"""Plans as they were made, what the manager asks of the next one, and the documents printed from them.

None is ever edited: a plan changes its status, an ask is withdrawn, a document is replaced.
"""

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
    # A re-plan names the plan it starts from, and waits beside it as a proposal until it is taken or left.
    base = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replans")
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    published_at = models.DateTimeField(null=True, blank=True)

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
            models.CheckConstraint(
                condition=Q(taken_at__isnull=True, left_at__isnull=True)
                | Q(base__isnull=False, taken_at__isnull=False, left_at__isnull=True)
                | Q(base__isnull=False, taken_at__isnull=True, left_at__isnull=False, status="superseded"),
                name="plan_taken_or_left_is_a_replan",
            ),
            models.CheckConstraint(
                condition=~Q(status="published") | Q(published_at__isnull=False), name="plan_published_has_time"
            ),
        ]

    def __str__(self) -> str:
        return f"Plan {self.number} of {self.week} ({self.status})"

    @property
    def is_proposal(self) -> bool:
        """A re-plan that nobody has taken or left yet."""
        return self.status == Plan.Status.DRAFT and self.base_id is not None and self.taken_at is None


class PlanAsk(SameKitchen):
    """What the manager has asked of the planner: a lock, or something that has happened."""

    week = models.ForeignKey(PlanningWeek, on_delete=models.CASCADE, related_name="asks")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="asks")  # the one it was said about
    content = models.JSONField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.content.get('kind')}, said of plan {self.plan.number}"


class PlanFixes(SameKitchen):
    """What would help a plan whose orders are late or not served, as it was worked out last."""

    plan = models.OneToOneField(Plan, on_delete=models.CASCADE, related_name="fixes")
    content = models.JSONField()
    seconds = models.FloatField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "plan fixes"
        constraints = [
            models.CheckConstraint(condition=Q(seconds__gte=0), name="plan_fixes_seconds_not_negative"),
        ]

    def __str__(self) -> str:
        return f"What would help plan {self.plan.number}"


class Document(SameKitchen):
    """One printed version; a changed one is a new row that names the row it replaces."""

    class Kind(models.TextChoices):
        BATCH_SHEET = "batch_sheet"
        COOLING_LOG = "cooling_log"
        PURCHASE_LIST = "purchase_list"
        WEEK_OVERVIEW = "week_overview"
        LABEL_SHEET = "label_sheet"
        DISPATCH_NOTE = "dispatch_note"
        COMPLETED_COOLING_LOG = "completed_cooling_log"
        COMPLETED_BATCH_RECORD = "completed_batch_record"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="documents")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=40, choices=Kind.choices)
    key = models.CharField(max_length=160)
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
                condition=Q(
                    kind__in=[
                        "batch_sheet",
                        "cooling_log",
                        "purchase_list",
                        "week_overview",
                        "label_sheet",
                        "dispatch_note",
                        "completed_cooling_log",
                        "completed_batch_record",
                    ]
                ),
                name="document_kind_allowed",
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
