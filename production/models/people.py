"""Who may do what in which kitchen."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from production.models.base import SameKitchen, once
from production.models.kitchen import Kitchen


class Membership(SameKitchen):
    class Role(models.TextChoices):
        MANAGER = "manager"
        COOK = "cook"
        INSPECTOR = "inspector"
        ADMINISTRATOR = "administrator"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)

    class Meta:
        ordering = ("kitchen__name", "user__username")
        constraints = [
            once("membership", "user", "kitchen"),
            models.CheckConstraint(
                condition=Q(role__in=["manager", "cook", "inspector", "administrator"]), name="membership_role_allowed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.role} of {self.kitchen}"
