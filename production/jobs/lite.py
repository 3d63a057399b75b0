"""A doorbell without a server: Celery messages in a small SQLite file of their own.

A message is deleted when it is handed out. That is enough, because it is only a bell: the job row in the database
is the truth, and the sweeper rings again for whatever was lost.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from queue import Empty
from typing import Any

from kombu.transport import virtual
from kombu.utils.encoding import bytes_to_str
from kombu.utils.json import dumps, loads

_local = threading.local()


def _bells(path: str) -> sqlite3.Connection:
    """One connection per thread and process: a forked child must not use its parent's."""
    known: dict[tuple[int, str], sqlite3.Connection] = _local.__dict__.setdefault("known", {})
    key = (os.getpid(), path)
    if key not in known:
        connection = sqlite3.connect(path, timeout=20, isolation_level=None)
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=NORMAL")
        connection.execute(
            "CREATE TABLE IF NOT EXISTS bell (id INTEGER PRIMARY KEY, queue TEXT NOT NULL, body TEXT NOT NULL)"
        )
        connection.execute("CREATE INDEX IF NOT EXISTS bell_by_queue ON bell (queue, id)")
        known[key] = connection
    return known[key]


class Channel(virtual.Channel):
    supports_fanout = False

    @property
    def bells(self) -> sqlite3.Connection:
        client: Any = self.connection.client
        return _bells(client.transport_options["path"])

    def _has_queue(self, queue: str, **_kwargs: Any) -> bool:
        return True

    def _put(self, queue: str, message: dict[str, Any], **_kwargs: Any) -> None:
        self.bells.execute("INSERT INTO bell (queue, body) VALUES (?, ?)", (queue, bytes_to_str(dumps(message))))

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        # Looking is cheap and takes no lock; most looks find nothing.
        if not self._size(queue):
            raise Empty
        row = self.bells.execute(
            "DELETE FROM bell WHERE id = (SELECT id FROM bell WHERE queue = ? ORDER BY id LIMIT 1) RETURNING body",
            (queue,),
        ).fetchone()
        if row is None:
            raise Empty
        return loads(row[0])

    def _size(self, queue: str) -> int:
        (count,) = self.bells.execute("SELECT count(*) FROM bell WHERE queue = ?", (queue,)).fetchone()
        return int(count)

    def _purge(self, queue: str) -> int:
        return self.bells.execute("DELETE FROM bell WHERE queue = ?", (queue,)).rowcount


class Transport(virtual.Transport):
    Channel = Channel

    default_port = None
    driver_type = "sqlite"
    driver_name = "sqlite3"
    implements = virtual.Transport.implements.extend(asynchronous=False, exchange_type=frozenset({"direct", "topic"}))

    def driver_version(self) -> str:
        return sqlite3.sqlite_version
