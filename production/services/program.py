"""Who writes when nobody does: the program itself, for what it finds when it looks."""

from __future__ import annotations

from django.contrib.auth.models import User

from production.models import Kitchen, Membership

NAME = "potwright"
ROLE = "program"


def program_of(kitchen: Kitchen) -> Membership:
    """A membership that is never stored: entries of the program name no person, and it may do nothing else."""
    return Membership(kitchen=kitchen, user=User(username=NAME), role=ROLE)
