"""Equal content has an equal fingerprint."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from production.domain.kitchen import Week
from production.domain.week_file import dump_week


def fingerprint(content: Any) -> str:
    """SHA-256 of the content as JSON with sorted keys and no spaces."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def week_fingerprint(week: Week) -> str:
    """Fingerprint of everything the week is planned from."""
    return fingerprint(dump_week(week))
