"""How long packing the records and checking the package take: `python -m tests.benchmarks.export --entries 100000`.

Works in a database of its own, which is thrown away. The readings are those of one log, so that its verdict rests on
all of them; the checker runs as it would with an inspector, by itself.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.benchmarks.ledger import (
    BEGUN,
    TOGETHER,
    Measured,
    a_cook,
    a_cooling,
    database_of_its_own,
    draft_of,
    timed,
)

WANTED_S = 10.0


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--entries", type=int, default=100_000)
    entries = asked.parse_args().entries
    os.environ["DJANGO_SETTINGS_MODULE"] = "production.settings.test"
    import django

    django.setup()
    with database_of_its_own(), TemporaryDirectory() as folder:
        rows = [each.line() for each in measured(entries, Path(folder) / "records.zip")]
    print(f"{entries} readings, {os.cpu_count()} cores\n")  # noqa: T201
    print("\n".join(["| | seconds | of these computing | wanted | kept |", "|---|---|---|---|---|", *rows]))  # noqa: T201


def measured(count: int, path: Path) -> Iterator[Measured]:
    """Pack a book of one long log, and check the package; nothing may be wrong with it."""
    from production.documents.package import check_package
    from production.services.exports import package_write
    from production.services.records import entries_append

    by = a_cook()
    cooling = a_cooling(by)
    for start in range(0, count, TOGETHER):
        drafts = [draft_of(cooling, place) for place in range(start, min(start + TOGETHER, count))]
        entries_append(by=by, drafts=drafts, now=BEGUN)
    _close(by, cooling, count)
    first, last = BEGUN.date(), BEGUN.date() + timedelta(days=10)
    yield timed("pack", lambda: _pack(package_write, by, first, last, path))
    told = [sys.executable, "-I", "-S", str(check_package.__file__), str(path)]
    before = _of_children_s()
    checked = timed("check, with a judge of its own", lambda: _whole(told), WANTED_S)
    yield replace(checked, computing_s=_of_children_s() - before)


def _of_children_s() -> float:
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime


def _pack(write: Any, by: Any, first: date, last: date, path: Path) -> None:
    write(by=by, first_day=first, last_day=last, path=path, progress=lambda *_: None)


def _whole(told: list[str]) -> None:
    done = subprocess.run(told, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 verdicts worked out anew" in done.stdout


def _close(by: Any, cooling: Any, count: int) -> None:
    """The log is closed in the book alone: its papers would take longer than everything else."""
    from production.domain.limits import rule
    from production.domain.records import Evidence, Reading, judge
    from production.domain.records.readings import parse_temp
    from tests.services.cooling_kit import note

    drafts = (draft_of(cooling, place) for place in range(count))
    readings = tuple(Reading(each.happened_at, parse_temp(each.content["temp"]), "C") for each in drafts)
    evidence = Evidence(readings=readings, event_at=cooling.event_at, hot_fact_at=cooling.hot_fact_at)
    found = judge(rule(cooling.rule), evidence, closed=True)
    stages = [{"number": each.number, "verdict": each.state.value} for each in found.stages]
    said = {"verdict": found.state.value, "stages": stages, "rule": cooling.rule}
    doubted: dict[str, list[int]] = {"no_evidence": [], "both_ways": []}
    note(by, cooling.subject, "cooling_closed", BEGUN + timedelta(days=2), said | {"doubted": doubted})


if __name__ == "__main__":
    main()
