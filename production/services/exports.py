"""The export package: asked for here, written to a file by a worker, piece by piece, and signed at the end."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import zipfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from production.documents.render import render_document
from production.domain.ledger.canonical import canonical_bytes_quick
from production.domain.ledger.package import COLUMNS, PackageSaid, number_ranges, package_note, table_row
from production.domain.limits import RULES
from production.domain.sheets import CompletedBatchRecord, CompletedCoolingLog, issued
from production.models import Checkpoint, Kitchen, Membership
from production.queue import enqueue
from production.selectors.access import Action, require
from production.selectors.batch_record import completed_batch_record
from production.selectors.cooling_record import completed_log
from production.selectors.exports import (
    RECORDS_EXPORT,
    Chosen,
    keys_known,
    leaves_of,
    notes_of,
    period_checked,
    records_chosen,
    statements_of,
)
from production.selectors.records import tree_of
from production.selectors.sealed_papers import rule_to_json, sealed_paper
from production.services.checkpoints import checkpoint_now, signer_of_this_installation
from production.services.jobs import JobContext, JobStopped, Result
from production.services.label_sheets import asked_by

AS_THEY_ARE = ("README.txt", "check_package.py", "entry.schema.json")
TOGETHER = 1000  # records between two looks at the job
Progress = Callable[[int, int, str], None]


@transaction.atomic
def records_export_request(*, by: Membership, first_day: date, last_day: date, idempotency_key: str = "") -> int:
    """Ask for the package of some days; returns the job's id. Days that cannot be are refused at once."""
    require(by, Action.EXPORT_RECORDS)
    period_checked(first_day, last_day)
    return enqueue(
        kind=RECORDS_EXPORT,
        kitchen_id=by.kitchen_id,
        payload={"first_day": first_day.isoformat(), "last_day": last_day.isoformat()},
        requested_by=by.user_id,
        idempotency_key=idempotency_key,
    )


def records_export(context: JobContext) -> Result:
    """The job's body: each attempt writes a file of its own, and only one is named by the job. It may run twice."""
    by = asked_by(context)
    first_day, last_day = (date.fromisoformat(context.payload[name]) for name in ("first_day", "last_day"))
    settings.EXPORT_DIR.mkdir(parents=True, exist_ok=True)
    path = settings.EXPORT_DIR / f"{context.job_id}.{context.attempt}.part"
    kept = path.with_suffix(".zip")
    try:
        made = package_write(by=by, first_day=first_day, last_day=last_day, path=path, progress=context.progress)
        path.rename(kept)
        return context.finish(lambda: made | {"file": kept.name})
    except JobStopped:
        kept.unlink(missing_ok=True)
        raise
    finally:
        path.unlink(missing_ok=True)


def package_write(*, by: Membership, first_day: date, last_day: date, path: Path, progress: Progress) -> dict[str, Any]:
    """Write the package to a file; says what is in it. The book is signed first, and read as it stood then."""
    period_checked(first_day, last_day)
    now, kitchen = timezone.now(), by.kitchen
    checkpoint = checkpoint_now(kitchen_id=kitchen.pk, now=now)
    chosen = records_chosen(kitchen=kitchen, size=checkpoint.size, first_day=first_day, last_day=last_day)
    said = {"kitchen": kitchen.code, "from": str(first_day), "to": str(last_day), "entries": checkpoint.size}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
        package = _Package(archive, now)
        for name in AS_THEY_ARE:
            package.add(name, (files("production.documents.package") / name).read_bytes())
        package.add("contents.json", _json(said | {"numbers": number_ranges(chosen.numbers)}))
        package.add("rules.json", _json({"rules": [rule_to_json(law) for law in RULES.values()]}))
        package.add("keys.txt", "".join(f"{key}\n" for key in keys_known()).encode())
        package.add("checkpoints.txt", "\n".join(notes_of(kitchen=kitchen, size=checkpoint.size)).encode())
        package.add_pieces(
            "records/leaves.txt", (f"{leaf}\n".encode() for leaf in leaves_of(kitchen=kitchen, size=checkpoint.size))
        )
        _records(package, kitchen, chosen, progress)
        _papers(package, by, checkpoint, chosen, progress)
        package.sign(said, first_day, last_day)
    _to_disk(path)
    return {
        "entries": checkpoint.size,
        "records": len(chosen.numbers),
        "logs": len(chosen.coolings),
        "runs": len(chosen.runs),
        "bytes": path.stat().st_size,
        "sha256": _sha256_of(path),
    }


@dataclass(slots=True)
class _Package:
    """An archive that notes length and hash of each file it takes."""

    archive: zipfile.ZipFile
    now: datetime
    listed: list[dict[str, object]] = field(default_factory=list)

    def add(self, name: str, data: bytes) -> None:
        self.add_pieces(name, [data])

    def add_pieces(self, name: str, pieces: Iterable[bytes]) -> None:
        length, digest = 0, hashlib.sha256()
        with self.archive.open(self._entry(name), "w", force_zip64=True) as file:
            for piece in pieces:
                file.write(piece)
                digest.update(piece)
                length += len(piece)
        self.listed.append({"name": name, "bytes": length, "sha256": digest.hexdigest()})

    def sign(self, said: dict[str, Any], first_day: date, last_day: date) -> None:
        """The list of all files, and the note that vouches for it."""
        listed = _json({"files": sorted(self.listed, key=lambda each: str(each["name"]))})
        note = package_note(
            PackageSaid(
                kitchen=said["kitchen"],
                first_day=first_day,
                last_day=last_day,
                entries=said["entries"],
                files_sha256=hashlib.sha256(listed).digest(),
                at=self.now,
            ),
            signer=signer_of_this_installation(),
        )
        self.archive.writestr(self._entry("files.json"), listed)
        self.archive.writestr(self._entry("package.txt"), note)

    def _entry(self, name: str) -> zipfile.ZipInfo:
        found = zipfile.ZipInfo(name, date_time=self.now.timetuple()[:6])
        found.compress_type = zipfile.ZIP_DEFLATED
        found.external_attr = 0o644 << 16
        return found


def _records(package: _Package, kitchen: Kitchen, chosen: Chosen, progress: Progress) -> None:
    """The records in both forms; both are read from the same rows, one after the other."""
    total = 2 * len(chosen.numbers)

    def told(note: str, before: int) -> Iterator[dict[str, Any]]:
        for place, each in enumerate(statements_of(kitchen=kitchen, numbers=chosen.numbers)):
            if place % TOGETHER == 0:
                progress(before + place, total, note)
            yield each.as_json()

    lines = (canonical_bytes_quick(each) + b"\n" for each in told("Records", 0))
    package.add_pieces("records/entries.jsonl", lines)
    package.add_pieces("records/entries.csv", _table(told("Table of records", len(chosen.numbers))))


def _table(statements: Iterator[dict[str, Any]]) -> Iterator[bytes]:
    page = io.StringIO(newline="")
    writer = csv.writer(page, lineterminator="\n")
    writer.writerow(COLUMNS)
    for each in statements:
        writer.writerow(table_row(each))
        if page.tell() > 2**16:
            yield page.getvalue().encode()
            page.seek(0)
            page.truncate()
    yield page.getvalue().encode()


def _papers(package: _Package, by: Membership, checkpoint: Checkpoint, chosen: Chosen, progress: Progress) -> None:
    """The papers are set anew from the records; each carries its own proof."""
    subjects = [*chosen.coolings, *chosen.runs]
    tree = tree_of(checkpoint=checkpoint) if subjects else None
    for place, subject in enumerate(subjects):
        progress(place, len(subjects), f"Papers: {subject}")
        content = _content(by, subject, package.now)
        sealed = sealed_paper(checkpoint=checkpoint, content=content, subject=subject, tree=tree)
        folder, name = ("logs" if subject.startswith("cooling/") else "runs"), subject.split("/", 1)[1]
        rendered = render_document(content, paper="letter" if by.kitchen.paper == "letter" else "a4", sealed=sealed)
        package.add(f"{folder}/{name.replace('/', '_')}.pdf", rendered.pdf)


def _content(by: Membership, subject: str, now: datetime) -> CompletedCoolingLog | CompletedBatchRecord:
    if subject.startswith("cooling/"):
        content: CompletedCoolingLog | CompletedBatchRecord = completed_log(by=by, subject=subject)
    else:
        _, first_day, code = subject.split("/")
        content = completed_batch_record(by=by, starts_on=date.fromisoformat(first_day), code=code, now=now)
    again = issued(content, version=1, replaces=None, at=now)
    assert isinstance(again, CompletedCoolingLog | CompletedBatchRecord)  # noqa: S101  issuing keeps the kind
    return again


def _json(value: dict[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, indent=1).encode() + b"\n"


def _to_disk(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _sha256_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
