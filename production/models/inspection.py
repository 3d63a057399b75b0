"""What went wrong and what was done about it, and who has looked at a log: rows that say where entries have led to.

Nothing stands here alone: every row can be worked out again from the book, but for the counter of wrong passwords.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from production.models.base import SameKitchen, once
from production.models.kitchen import Kitchen
from production.models.people import Membership
from production.models.records import CoolingRecord, Entry, Lot


class Deviation(SameKitchen):
    """Something that was not as the plan or a limit asks; open until a manager has closed it with all its fields."""

    class Kind(models.TextChoices):
        COOLING = "cooling"  # a log closed as breached or not shown
        LATE_LOG = "late_log"  # a log that nobody closed
        THERMOMETER = "thermometer"
        STORAGE = "storage"
        RECEIPT = "receipt"
        REVIEW = "review"  # a review was refused

    class State(models.TextChoices):
        OPEN = "open"
        CLOSED = "closed"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="deviations")
    number = models.PositiveIntegerField()  # 1, 2, 3 … within the kitchen
    kind = models.CharField(max_length=20, choices=Kind.choices)
    about = models.CharField(max_length=160)  # subject of the entries it is about
    cooling = models.ForeignKey(
        CoolingRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="deviations"
    )
    lots = models.ManyToManyField(Lot, related_name="deviations", blank=True)  # named besides those of the cooling
    sentence = models.CharField(max_length=300)
    opened_by = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    due_on = models.DateField()  # last day for its review
    state = models.CharField(max_length=12, choices=State.choices, default=State.OPEN)
    disposition = models.CharField(max_length=12, blank=True)
    closed_by = models.ForeignKey(Entry, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("number",)
        constraints = [
            once("deviation", "kitchen", "number"),
            models.UniqueConstraint(
                fields=["kitchen", "kind", "about"],
                condition=Q(state="open"),
                name="deviation_open_once_per_kind_and_about",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["cooling", "late_log", "thermometer", "storage", "receipt", "review"]),
                name="deviation_kind_allowed",
            ),
            models.CheckConstraint(
                condition=Q(state="open", closed_by__isnull=True, closed_at__isnull=True, disposition="")
                | Q(
                    state="closed",
                    closed_by__isnull=False,
                    closed_at__isnull=False,
                    disposition__in=["discard", "release", "reheat", "none"],
                ),
                name="deviation_closed_has_disposition",
            ),
        ]
        indexes = [models.Index(fields=["kitchen", "state", "number"], name="deviation_by_state")]

    def __str__(self) -> str:
        return f"Deviation {self.number} ({self.state})"


class Review(SameKitchen):
    """How the review of a closed cooling log stands; a log without a row waits for its first one."""

    class State(models.TextChoices):
        WAITING = "waiting"
        SIGNED = "signed"
        LOST = "lost"  # something was added after the signature
        REFUSED = "refused"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="reviews")
    cooling = models.OneToOneField(CoolingRecord, on_delete=models.PROTECT, related_name="review")
    state = models.CharField(max_length=12, choices=State.choices, default=State.WAITING)
    asked = models.BooleanField(default=False)  # a question waits for its answer
    signature = models.ForeignKey(Entry, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "signed", "lost", "refused"]), name="review_state_allowed"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["signed", "lost"]) | Q(signature__isnull=False), name="review_signed_has_entry"
            ),
        ]
        indexes = [models.Index(fields=["kitchen", "state"], name="review_by_state")]

    def __str__(self) -> str:
        return f"Review of {self.cooling}: {self.state}"


class SignatureTries(SameKitchen):
    """How often somebody has given a wrong password when signing, since the last right one."""

    membership = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="signature_tries")
    failed = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "signature tries"

    def __str__(self) -> str:
        return f"{self.failed} wrong passwords of {self.membership}"

    def owner_id(self) -> int | None:
        return self.membership.owner_id()
