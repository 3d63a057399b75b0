"""A migrated empty database is kept beside the data; the tests need not migrate from nothing at every start."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

import django
import pytest
from django.conf import settings
from django.db import connection
from django.db.backends.sqlite3.creation import DatabaseCreation


def migrated_file() -> Path:
    """Another migration, another guard or another Django asks for another file."""
    said = sha256(django.get_version().encode())
    for path in sorted((settings.BASE_DIR / "production").glob("migrations/*.py")):
        said.update(path.name.encode() + path.read_bytes())
    return Path(settings.DATA_DIR) / f"migrated-{said.hexdigest()[:16]}.sqlite3"


def begin_migrated(patch: pytest.MonkeyPatch, start: Path) -> None:
    """A test database begins as this file; what is not migrated yet still is."""
    creator: Any = DatabaseCreation
    created: Callable[..., str] = creator._create_test_db

    def from_the_file(creation: Any, *given: Any, **named: Any) -> str:
        name = created(creation, *given, **named)
        with suppress(FileNotFoundError):
            shutil.copyfile(start, name)
        return name

    patch.setattr(creator, "_create_test_db", from_the_file)


def keep_migrated(start: Path) -> None:
    """Write the file, for others all at once, and take away those that were right before."""
    if connection.vendor != "sqlite" or start.exists():
        return
    being_written = start.with_suffix(f".{os.getpid()}")
    being_written.unlink(missing_ok=True)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(being_written)])
    being_written.replace(start)
    for other in start.parent.glob("migrated-*.sqlite3"):
        if other != start:
            other.unlink(missing_ok=True)
