"""Fast and closed: weak password hashes, jobs in place, a database file per test process."""

import os

from production.settings.base import *
from production.settings.env import env_str, postgres_database

SECRET_KEY = "tests-only"  # noqa: S105
DEBUG = False
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True

CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
PLAN_SECONDS = REPLAN_SECONDS = 0  # one careful pass; tests that search say for how long
SIGNING_KEY = "dGVzdHMgb25seTogMzIgYnl0ZXMgbm8gb25lIHVzZXM="  # 32 bytes that sign nothing of worth
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True

TEST_DATABASE_URL = env_str("POTWRIGHT_TEST_DATABASE_URL", default="")
if TEST_DATABASE_URL:
    DATABASES["default"] = postgres_database("POTWRIGHT_TEST_DATABASE_URL", TEST_DATABASE_URL)
else:
    # A file, not memory: threads and child processes of the tests must see the same rows.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / f"test-{os.getpid()}.sqlite3")}
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS | {
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;"
    }
