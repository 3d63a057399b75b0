"""The one Django app."""

from __future__ import annotations

from django.apps import AppConfig


class ProductionConfig(AppConfig):
    name = "production"
    verbose_name = "Production"

    def ready(self) -> None:
        # The tasks are registered here, not in production/__init__.py: the domain stays importable without Celery.
        import production.jobs.tasks  # noqa: F401
