"""What all settings share."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from production.settings.env import env_int, env_key, env_keys, env_str

BASE_DIR = Path(__file__).resolve().parents[2]
DATA_DIR = Path(env_str("POTWRIGHT_DATA_DIR", default=str(BASE_DIR / ".data")))
DATA_DIR.mkdir(parents=True, exist_ok=True)

INSTALLED_APPS = [
    "production.apps.ProductionConfig",
    "whitenoise.runserver_nostatic",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "production.web.headers.content_security_policy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "production.urls"
WSGI_APPLICATION = "production.wsgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "production" / "web" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

# IMMEDIATE takes the write lock at BEGIN, so that two writers wait for each other instead of failing half-way.
# FULL: a cooling reading has to survive a power cut.
SQLITE_OPTIONS: dict[str, object] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
}
DATABASES: dict[str, dict[str, Any]] = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": DATA_DIR / "potwright.sqlite3",
        "OPTIONS": SQLITE_OPTIONS,
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en"
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [
    path
    for path in (
        BASE_DIR / "production" / "web" / "static",
        ("fonts", BASE_DIR / "production" / "drawing" / "fonts"),
    )
    if Path(path[1] if isinstance(path, tuple) else path).is_dir()
]

REST_FRAMEWORK: dict[str, Any] = {
    "NUM_PROXIES": 0,
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.errors.problem_handler",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Potwright",
    "DESCRIPTION": "Orders, plans, purchase lists, documents and workings of one production kitchen.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "ENUM_NAME_OVERRIDES": {
        "AskKindEnum": "api.planning.ASK_KINDS",
        "DocumentKindEnum": "api.serializers.DOCUMENT_KINDS",
        "PlanDocumentKindEnum": "api.serializers.PLAN_DOCUMENT_KINDS",
        "LotStateEnum": "api.lots.LOT_STATES",
        "PlanStateEnum": "api.serializers.PLAN_STATES",
    },
    "PATH_CONVERTER_OVERRIDES": {
        "api_day": {"type": "string", "format": "date"},
        "api_code": {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$"},
        "api_plan": {"type": "string", "pattern": "^(newest|[1-9][0-9]{0,8})$"},
        "api_row": {"type": "integer", "minimum": 1, "maximum": 999_999_999_999_999_999},
    },
}

REDIS_URL = env_str("POTWRIGHT_REDIS_URL", default="")

# Shared by all processes that serve pages, so that attempts to sign in are counted together.
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.filebased.FileBasedCache", "LOCATION": str(DATA_DIR / "cache")}
}

# The job row in the database is the truth; the broker is only the doorbell.
CELERY_BROKER_URL = REDIS_URL or "lite://localhost"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = (
    {"socket_connect_timeout": 2, "visibility_timeout": 3600}
    if REDIS_URL
    else {"path": str(DATA_DIR / "bell.sqlite3"), "polling_interval": 0.1}
)
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_DEFAULT_QUEUE = "jobs"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_WORKER_PREFETCH_MULTIPLIER = 4
CELERY_WORKER_SEND_TASK_EVENTS = False
CELERY_WORKER_ENABLE_REMOTE_CONTROL = bool(REDIS_URL)
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TASK_TIME_LIMIT = env_int("POTWRIGHT_JOB_LIMIT_S", default=900, low=30, high=86400)
CELERY_TIMEZONE = "UTC"

# How long a planning may search for a better plan, a re-plan (somebody waits beside a pot), and with how many threads.
PLAN_SECONDS = env_int("POTWRIGHT_PLAN_SECONDS", default=30, low=0, high=600)
REPLAN_SECONDS = env_int("POTWRIGHT_REPLAN_SECONDS", default=2, low=0, high=600)
SOLVER_WORKERS = env_int("POTWRIGHT_SOLVER_WORKERS", default=len(os.sched_getaffinity(0)), low=1, high=64)

# What signs the checkpoints of the records; without it a key is made in the data directory when it is first needed.
SIGNING_KEY = env_key("POTWRIGHT_SIGNING_KEY")
SIGNING_KEY_FILE = DATA_DIR / "signing-key"
EARLIER_SIGNING_KEYS = env_keys("POTWRIGHT_EARLIER_SIGNING_KEYS")  # the public ones, of keys no longer in use

# Export packages of the records: written by workers, taken through the pages, which must see the same directory.
EXPORT_DIR = DATA_DIR / "exports"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"production": {"level": "INFO"}},
}
