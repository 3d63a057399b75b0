"""Background work: the row is the truth, the broker only the doorbell."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class Job(models.Model):
    class State(models.TextChoices):
        QUEUED = "queued"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"
        CANCELLED = "cancelled"

    kitchen = models.ForeignKey("production.Kitchen", on_delete=models.CASCADE, related_name="jobs")
    kind = models.CharField(max_length=40)
    payload = models.JSONField(default=dict, blank=True)
    idempotency_key = models.CharField(max_length=80, blank=True)
    requested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    state = models.CharField(max_length=10, choices=State.choices, default=State.QUEUED)
    cancel_requested = models.BooleanField(default=False)
    enough = models.BooleanField(default=False)  # stop searching and keep the best found so far
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    rung_at = models.DateTimeField(null=True, blank=True)

    progress_done = models.PositiveIntegerField(default=0)
    progress_total = models.PositiveIntegerField(default=0)
    progress_note = models.CharField(max_length=200, blank=True)
    preview = models.JSONField(null=True, blank=True)  # the best found so far, while the work goes on

    result = models.JSONField(null=True, blank=True)
    error_code = models.CharField(max_length=60, blank=True)
    error_sentence = models.TextField(blank=True)

    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["state", "lease_until"], name="job_by_state"),
            models.Index(fields=["kitchen", "-id"], name="job_by_kitchen"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["kitchen", "idempotency_key"],
                condition=~Q(idempotency_key=""),
                name="job_key_once_per_kitchen",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["queued", "running", "done", "failed", "cancelled"]), name="job_state_known"
            ),
            models.CheckConstraint(
                condition=~Q(state="running") | Q(lease_until__isnull=False, started_at__isnull=False),
                name="job_running_has_lease",
            ),
            models.CheckConstraint(
                condition=~Q(state="failed") | (~Q(error_code="") & ~Q(error_sentence="")),
                name="job_failure_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["queued", "running"]) | Q(finished_at__isnull=False), name="job_end_has_time"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk} ({self.state})"
