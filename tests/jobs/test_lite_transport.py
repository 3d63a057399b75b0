"""The doorbell in a SQLite file."""

from __future__ import annotations

import threading
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection

from production.jobs import app as _registers_the_transport  # noqa: F401


def bell_in(path: Path) -> Connection:
    return Connection("lite://localhost", transport_options={"path": str(path), "polling_interval": 0.02})


def test_messages_come_out_in_the_order_they_went_in(tmp_path: Path) -> None:
    with bell_in(tmp_path / "bell.sqlite3") as connection:
        queue = connection.SimpleQueue("jobs")
        for number in range(5):
            queue.put({"job": number})
        assert queue.qsize() == 5
        assert [queue.get(timeout=60).payload["job"] for _ in range(5)] == [0, 1, 2, 3, 4]
        with pytest.raises(Empty):
            queue.get(block=False)


def test_a_purge_empties_one_queue_only(tmp_path: Path) -> None:
    with bell_in(tmp_path / "bell.sqlite3") as connection:
        jobs, others = connection.SimpleQueue("jobs"), connection.SimpleQueue("others")
        jobs.put({"job": 1})
        others.put({"job": 2})
        assert jobs.clear() == 1
        assert (jobs.qsize(), others.qsize()) == (0, 1)


def test_each_message_reaches_one_of_several_listeners(tmp_path: Path) -> None:
    path = tmp_path / "bell.sqlite3"
    with bell_in(path) as connection:
        queue = connection.SimpleQueue("jobs")
        for number in range(60):
            queue.put({"job": number})
    heard: list[int] = []

    def listen() -> None:
        with bell_in(path) as own:
            queue = own.SimpleQueue("jobs")
            while True:
                try:
                    message = queue.get(block=False)
                except Empty:
                    return
                heard.append(message.payload["job"])
                message.ack()

    listeners = [threading.Thread(target=listen) for _ in range(3)]
    for listener in listeners:
        listener.start()
    for listener in listeners:
        listener.join()
    assert sorted(heard) == list(range(60))


def test_a_message_given_back_unread_can_be_heard_again(tmp_path: Path) -> None:
    path = tmp_path / "bell.sqlite3"
    with bell_in(path) as connection:
        queue = connection.SimpleQueue("jobs")
        queue.put({"job": 7})
        queue.get(timeout=60)
    with bell_in(path) as connection:
        assert connection.SimpleQueue("jobs").get(timeout=60).payload == {"job": 7}
