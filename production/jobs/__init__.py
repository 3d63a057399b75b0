"""Celery: the doorbell and the thin tasks behind it."""
