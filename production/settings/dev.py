"""One machine, SQLite, no servers: what deploy/start and a newcomer's `manage.py` use."""

from production.settings.base import *
from production.settings.env import env_bool

SECRET_KEY = "for-this-machine-only-never-for-a-kitchen-that-others-can-reach"  # noqa: S105
DEBUG = env_bool("POTWRIGHT_DEBUG", default=True)
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]"]
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
