"""A kitchen that others can reach: PostgreSQL, HTTPS, secrets from the environment."""

from production.settings.base import *
from production.settings.env import env_bool, env_int, env_str, postgres_database

SECRET_KEY = env_str("POTWRIGHT_SECRET_KEY", min_length=50)
DEBUG = False
ALLOWED_HOSTS = [host.strip() for host in env_str("POTWRIGHT_HOSTS").split(",") if host.strip()]
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS]

DATABASES["default"] = postgres_database("POTWRIGHT_DATABASE_URL", env_str("POTWRIGHT_DATABASE_URL")) | {
    "CONN_MAX_AGE": 60,
    "CONN_HEALTH_CHECKS": True,
}

STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

SECURE_SSL_REDIRECT = env_bool("POTWRIGHT_HTTPS_REDIRECT", default=True)
SECURE_HSTS_SECONDS = env_int("POTWRIGHT_HSTS_S", default=31_536_000, low=0, high=63_072_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
SECURE_REFERRER_POLICY = "same-origin"
if env_bool("POTWRIGHT_BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    REST_FRAMEWORK["NUM_PROXIES"] = 1  # the last address in X-Forwarded-For is the one the proxy saw
