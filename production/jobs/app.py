"""The Celery app."""

from __future__ import annotations

import os

from celery import Celery
from kombu.transport import TRANSPORT_ALIASES

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "production.settings.dev")
TRANSPORT_ALIASES["lite"] = "production.jobs.lite:Transport"

app = Celery("potwright")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.set_default()
