"""The one Django app."""

from __future__ import annotations

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


class ProductionConfig(AppConfig):
    name = "production"
    verbose_name = "Production"

    def ready(self) -> None:
        # The tasks are registered here, not in production/__init__.py: the domain stays importable without Celery.
        import production.jobs.tasks  # noqa: F401

        post_migrate.connect(_put_up_guards, sender=self)


def _put_up_guards(*, using: str, **_signal: object) -> None:
    from production.models.guards import guards_put_up

    guards_put_up(connections[using])
