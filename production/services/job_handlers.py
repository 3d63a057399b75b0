"""Which service does which kind of job. Add a line per kind."""

from __future__ import annotations

from production.services.jobs import Handler

HANDLERS: dict[str, Handler] = {}
