"""Settings of a child process: the parent's test database, and a real broker."""

from __future__ import annotations

import json
import os

from production.settings.test import *

_told = json.loads(os.environ["POTWRIGHT_TEST_CHILD"])
DATABASES["default"]["NAME"] = _told["database"]
CELERY_TASK_ALWAYS_EAGER = False
CELERY_BROKER_URL = _told["broker_url"]
CELERY_BROKER_TRANSPORT_OPTIONS = _told["transport_options"]
