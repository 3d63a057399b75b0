#!/bin/sh
# One image, four roles: pages (default), worker, tick, or any manage.py command.
set -eu

case "${1:-pages}" in
  pages)
    python manage.py migrate --verbosity 0
    python manage.py collectstatic --noinput --verbosity 0
    python manage.py warm_planner
    exec gunicorn production.wsgi --bind 0.0.0.0:8000 --workers 2 --threads 4
    ;;
  worker)
    python manage.py warm_planner
    exec celery -A production.jobs.app worker --concurrency 1 --loglevel info
    ;;
  tick) exec python manage.py tick ;;
  *) exec python manage.py "$@" ;;
esac
