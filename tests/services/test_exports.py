"""The export package: what is in it, that it can be checked alone, and that whatever is done to it is found."""

from __future__ import annotations

import io
import json
import random
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pikepdf
import pytest
import zxingcpp
from django.core.management import CommandError, call_command
from django.db import connection
from django.http import Http404

from production.documents.package import check_package as checker
from production.documents.render import RenderedPdf, render_document
from production.domain.errors import NotAllowed, OutOfRange
from production.domain.ledger import SignerKey
from production.domain.ledger.checkpoint import checkpoint_note
from production.models import CoolingRecord, Entry, Job, PlanningWeek
from production.models.guards import guards_take_down
from production.selectors.exports import export_of, exports_of
from production.services import exports
from production.services.checkpoints import checkpoint_now
from production.services.exports import package_write, records_export_request
from production.services.job_handlers import HANDLERS
from production.services.jobs import job_run
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, again, note, opened, read, sent, take
from tests.web.conftest import signed_in

pytestmark = pytest.mark.django_db
QUICK = RenderedPdf(pdf=b"%PDF-1.7 quick", pages=1)


@pytest.fixture(autouse=True)
def _exports_elsewhere(tmp_path: Path, settings: Any) -> None:
    settings.EXPORT_DIR = tmp_path / "exports"


def at(cooling: CoolingRecord, minute: float) -> datetime:
    return cooling.opened_at + timedelta(minutes=minute)


@pytest.fixture
def cooling(cast: Cast, planning_week: PlanningWeek) -> CoolingRecord:
    """A log with a question, one set aside, a probe in the ice that nobody confirmed, a part, and an addition."""
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=datetime(2027, 1, 1, tzinfo=UTC))
    a_thermometer(cast.manager, correction="-0.2")
    found = opened(cast.cook, a_run(cast.manager, planning_week))
    for minute, temp in ((2, "80.2"), (25, "57.2"), (60, "35.2")):
        read(cast.cook, found, minute, temp, thermometer="t1")
    wrong = read(cast.cook, found, 62, "0.4", thermometer="t1")
    aside = sent("reading_excluded", found.subject, at(found, 64), {}, corrects=wrong.key, reason="Probe in the ice")
    take(cast.manager, aside, now=at(found, 64))
    read(cast.cook, found, 66, "0.6", thermometer="t1")
    part = found.subject.rsplit("/", 2)[0] + "/elsewhere/1.1"
    split = {"parted_from": found.subject, "vessels": "2", "place": "Snow outside"}
    take(cast.cook, sent("cooling_opened", part, at(found, 70), split), now=at(found, 70))
    other = CoolingRecord.objects.get(subject=part)
    for minute, temp in ((40, "21.1"), (230, "4.2")):
        read(cast.cook, other, minute, temp)
    checkpoint_now(kitchen_id=cast.kitchen.pk, now=at(found, 305))
    for minute, temp in ((110, "21.1"), (300, "5.2")):
        read(cast.cook, found, minute, temp, thermometer="t1")
    act(cast.manager, found, "cooling_closed", 301, {})
    act(cast.manager, other, "cooling_closed", 301, {"given_up": True}, reason="Nobody can say what was read there")
    late = sent("reading", found.subject, at(found, 130), {"temp": "22.9", "unit": "C", "thermometer": "t1"})
    take(cast.cook, late, now=at(found, 310))
    return again(found)


def day_of(cooling: CoolingRecord) -> date:
    return cooling.opened_at.date()


def written(cast: Cast, cooling: CoolingRecord, path: Path) -> Path:
    day = day_of(cooling)
    package_write(
        by=cast.inspector,
        first_day=day - timedelta(days=1),
        last_day=day + timedelta(days=1),
        path=path,
        progress=lambda *_: None,
    )
    return path


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nobody looks at the papers."""
    monkeypatch.setattr(exports, "render_document", lambda *_, **__: QUICK)


_FILES: dict[str, bytes] = {}


@pytest.fixture
def files(request: pytest.FixtureRequest, tmp_path: Path) -> dict[str, bytes]:
    """What a package of that log holds; it is made once, and every test gets a copy."""
    if not _FILES:
        cast, cooling = request.getfixturevalue("cast"), request.getfixturevalue("cooling")
        _FILES.update(unpacked(written(cast, cooling, tmp_path / "first.zip")))
    return dict(_FILES)


@pytest.fixture
def package(files: dict[str, bytes], tmp_path: Path) -> Path:
    """The same as a file."""
    path = tmp_path / "records.zip"
    path.write_bytes(packed(files).getvalue())
    return path


def unpacked(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def notes_in(files: Mapping[str, bytes]) -> list[str]:
    return files["checkpoints.txt"].decode().split("\n\n")


def packed(files: Mapping[str, bytes]) -> io.BytesIO:
    found = io.BytesIO()
    with zipfile.ZipFile(found, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return found


def findings(files: Mapping[str, bytes], outside: tuple[str, ...] = (), keys: tuple[bytes, ...] = ()) -> list[str]:
    with zipfile.ZipFile(packed(files)) as archive:
        return checker.Package(archive, outside, keys).check().findings


# --- what is in it -------------------------------------------------------------------------------------------------


def test_an_honest_package_is_found_whole_by_python_alone_in_an_empty_directory(package: Path, tmp_path: Path) -> None:
    clean = tmp_path / "clean"
    clean.mkdir()
    (clean / "check_package.py").write_bytes(unpacked(package)["check_package.py"])
    (clean / "given.zip").write_bytes(package.read_bytes())
    asked = [sys.executable, "-I", "-S", "check_package.py", "given.zip"]
    done = subprocess.run(asked, cwd=clean, env={}, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    assert "3 verdicts worked out anew" in done.stdout
    assert "Nothing is wrong." in done.stdout
    assert "only shows that the file agrees with itself" in done.stdout
    (clean / "given.zip").write_bytes(package.read_bytes()[:-100])
    broken = subprocess.run(asked, cwd=clean, env={}, capture_output=True, text=True, check=False)
    assert broken.returncode == 2
    assert "cannot be opened" in broken.stderr


def test_lines_and_table_hold_all_records_of_the_days_and_fit_the_schema(files: dict[str, bytes]) -> None:
    schema = json.loads(files["entry.schema.json"])
    records = [json.loads(line) for line in files["records/entries.jsonl"].splitlines()]
    for each in records:
        jsonschema.validate(each, schema)
    assert [each["number"] for each in records] == list(range(1, len(records) + 1))
    assert len(files["records/leaves.txt"].splitlines()) == len(records)
    assert files["records/entries.csv"].decode().count("cooling_closed") == 2
    assert {name.split("/")[0] for name in files if "/" in name} == {"records", "logs"}
    assert len(notes_in(files)) == 3


@pytest.mark.usefixtures("quick")
def test_days_without_records_prove_the_book_and_hold_none(cast: Cast, cooling: CoolingRecord, tmp_path: Path) -> None:
    path, day = tmp_path / "none.zip", day_of(cooling) + timedelta(days=40)
    package_write(by=cast.inspector, first_day=day, last_day=day, path=path, progress=lambda *_: None)
    report = checker.check_file(path)
    assert report.findings == []
    assert f"0 records of {Entry.objects.count()}" in report.checked


@pytest.mark.usefixtures("quick")
def test_a_day_that_touches_a_log_brings_all_of_it_and_nothing_else(
    cast: Cast, cooling: CoolingRecord, tmp_path: Path
) -> None:
    part = CoolingRecord.objects.exclude(pk=cooling.pk).get()
    later = at(part, 60 * 24 * 10)
    note(cast.manager, part.subject, "corrective_action", later, {"what": "Thrown away"})
    note(cast.manager, "store/walk-in", "storage_temp", later + timedelta(days=9), {"temp": "3", "unit": "C"})
    path = tmp_path / "one-day.zip"
    package_write(by=cast.manager, first_day=later.date(), last_day=later.date(), path=path, progress=lambda *_: None)
    records = [json.loads(line) for line in unpacked(path)["records/entries.jsonl"].splitlines()]
    assert {each["subject"] for each in records} == {part.subject, cooling.subject}
    assert len(records) == Entry.objects.filter(subject__in=[part.subject, cooling.subject]).count()
    report = checker.check_file(path)
    assert (report.findings, report.checked[-1]) == ([], "3 verdicts worked out anew")


def test_each_log_is_an_archive_pdf_that_can_be_checked_alone(files: dict[str, bytes], tmp_path: Path) -> None:
    logs = {name: data for name, data in files.items() if name.endswith(".pdf")}
    assert len(logs) == 2
    for data in logs.values():
        alone = tmp_path / "log.pdf"
        alone.write_bytes(data)
        report = checker.check_file(alone)
        assert report.findings == []
        assert any(re.match("[1-3] verdicts worked out anew", each) for each in report.checked)
        with pikepdf.open(alone) as pdf:
            assert pdf.open_metadata().pdfa_status == "3B"
            assert list(pdf.attachments) == ["records-and-proofs.json"]
            held = json.loads(pdf.attachments["records-and-proofs.json"].get_file().read_bytes())
        for _ in range(40):
            assert _paper_findings(held, random.Random(_))


def _paper_findings(held: dict[str, Any], dice: random.Random) -> list[str]:
    """What the checker says after a hand was laid on the data of a paper."""
    forged = json.loads(json.dumps(held))
    one = dice.choice(forged["entries"])
    match dice.randrange(4):
        case 0:
            one["leaf"] = one["leaf"][:20] + ("A" if one["leaf"][20] != "A" else "B") + one["leaf"][21:]
        case 1:
            one["index"] += 1
        case 2:
            forged["entries"].append(one)
        case _:
            forged["checkpoint"] = forged["checkpoint"].replace("time: 2", "time: 1")
    try:
        return checker.check_paper(forged, (), ()).findings
    except (checker.Broken, ValueError) as error:
        return [str(error)]


def test_the_code_on_a_log_says_the_checkpoint_beside_it(files: dict[str, bytes], tmp_path: Path) -> None:
    data = next(data for name, data in files.items() if name.endswith(".pdf"))
    (tmp_path / "log.pdf").write_bytes(data)
    subprocess.run(["pdftoppm", "-r", "200", "-gray", tmp_path / "log.pdf", tmp_path / "page"], check=True)
    pages: list[Any] = [_picture(path) for path in sorted(tmp_path.glob("page*.pgm"))]
    codes = [code.text for each in pages for code in zxingcpp.read_barcodes(each)]
    assert len(codes) == 1
    assert codes[0].startswith(notes_in(files)[-1])
    assert "subject: cooling/" in codes[0]


def _picture(path: Path) -> Any:
    """A grey picture without a library: PGM, eight bits."""
    head, size, most, dots = path.read_bytes().split(b"\n", 3)
    assert (head, most) == (b"P5", b"255")
    width, height = (int(each) for each in size.split())
    return np.frombuffer(dots, dtype=np.uint8).reshape(height, width)


# --- hands laid on it ----------------------------------------------------------------------------------------------


def _lines(files: dict[str, bytes], name: str) -> list[bytes]:
    return files[name].split(b"\n")[:-1]


def _kept(files: dict[str, bytes], name: str, lines: list[bytes]) -> None:
    files[name] = b"".join(line + b"\n" for line in lines)


def change(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    data = bytearray(files[name])
    place = dice.randrange(len(data))
    data[place] = (data[place] + dice.randrange(1, 256)) % 256
    files[name] = bytes(data)


def other_value(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    """One digit of a line is another."""
    lines = _lines(files, name)
    with_digits = [n for n, line in enumerate(lines) if re.search(rb"[0-9]", line)]
    n = dice.choice(with_digits)
    place = dice.choice([found.start() for found in re.finditer(rb"[0-9]", lines[n])])
    digit = str((int(lines[n][place : place + 1]) + dice.randrange(1, 10)) % 10).encode()
    lines[n] = lines[n][:place] + digit + lines[n][place + 1 :]
    _kept(files, name, lines)


def delete(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    lines = _lines(files, name)
    del lines[dice.randrange(len(lines))]
    _kept(files, name, lines)


def insert(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    lines = _lines(files, name)
    lines.insert(dice.randrange(len(lines) + 1), dice.choice(lines))
    _kept(files, name, lines)


def reorder(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    lines = _lines(files, name)
    one, two = dice.sample(range(len(lines)), 2)
    if lines[one] == lines[two]:
        one = two = next(n for n, line in enumerate(lines) if line != lines[one])
        two = one - 1 if one else one + 1
    lines[one], lines[two] = lines[two], lines[one]
    _kept(files, name, lines)


def truncate(files: dict[str, bytes], name: str, dice: random.Random) -> None:
    files[name] = files[name][: dice.randrange(len(files[name]))]


HANDS: tuple[Callable[[dict[str, bytes], str, random.Random], None], ...] = (
    change, other_value, delete, insert, reorder, truncate,
)  # fmt: skip
RECORDS = ("records/entries.jsonl", "records/entries.csv", "records/leaves.txt")


def test_twelve_hundred_hands_on_the_files_are_all_found_and_the_file_is_named(files: dict[str, bytes]) -> None:
    assert findings(files) == []
    dice = random.Random(5)
    for _ in range(1200):
        forged, name = dict(files), dice.choice([*files, *RECORDS, *RECORDS])
        hand = dice.choice(HANDS if name in RECORDS else (change, truncate))
        hand(forged, name, dice)
        if forged == files:
            continue
        found = findings(forged)
        assert any(name in each for each in found), (name, hand.__name__, found)


@pytest.mark.parametrize("name", RECORDS)
@pytest.mark.parametrize("hand", HANDS, ids=[each.__name__ for each in HANDS])
def test_without_the_signed_list_the_records_still_betray_the_place(
    files: dict[str, bytes], hand: Callable[..., None], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever forges the list of files too has still the book against him."""
    monkeypatch.setattr(checker.Package, "_as_listed", lambda *_: None)
    dice = random.Random(f"{name} {hand.__name__}")
    assert findings(files) == []
    for _ in range(60):
        forged = dict(files)
        hand(forged, name, dice)
        found = findings(forged)
        assert forged == files or any(
            re.search(r"entry \d+|entries \d+|Entry \d+|line \d+|row \d+|end", each) for each in found
        ), found


FORGERIES: dict[str, tuple[Callable[[dict[str, bytes]], object], str]] = {
    "a file is gone": (lambda files: files.pop("rules.json"), "rules.json is missing"),
    "a file was put in": (lambda files: files.update({"logs/more.pdf": b"%PDF-"}), "does not belong to the package"),
    "a milder rule": (
        lambda files: files.update(
            {"rules.json": files["rules.json"].replace(b'"max_minutes": 120', b'"max_minutes": 900')}
        ),
        "rules.json is not as it was",
    ),
    "another key": (lambda files: files.update({"keys.txt": b"AAAA\n"}), "not in keys.txt"),
    "other days": (
        lambda files: files.update({"package.txt": re.sub(rb"from: .*", b"from: 2020-01-01", files["package.txt"])}),
        "signature that does not belong",
    ),
    "no note": (lambda files: files.pop("package.txt"), "package.txt is missing"),
}


@pytest.mark.parametrize("what", FORGERIES)
def test_what_is_done_beside_the_records_is_found_too(files: dict[str, bytes], what: str) -> None:
    forge, sentence = FORGERIES[what]
    forge(files)
    assert any(sentence in each for each in findings(files)), findings(files)


def test_a_name_that_is_there_twice_is_found(files: dict[str, bytes]) -> None:
    twice = packed(files)
    with zipfile.ZipFile(twice, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("README.txt", "All is well.")
    with zipfile.ZipFile(twice) as archive:
        found = checker.Package(archive, (), ()).check().findings
    assert "README.txt is in the package more than once." in found


def test_a_checkpoint_kept_elsewhere_is_held_against_the_package(files: dict[str, bytes]) -> None:
    older = notes_in(files)[1]
    assert findings(files, (older,)) == []
    signer = SignerKey.read("dGVzdHMgb25seTogMzIgYnl0ZXMgbm8gb25lIHVzZXM=")
    now = datetime(2027, 3, 1, tzinfo=UTC)
    other = checkpoint_note(kitchen="small", size=5, root=b"\0" * 32, at=now, signer=signer)
    assert any("among entries 1 to 5 was written anew" in each for each in findings(files, (other,)))
    longer = checkpoint_note(kitchen="small", size=500, root=b"\0" * 32, at=now, signer=signer)
    assert any("were taken away" in each for each in findings(files, (longer,)))
    stranger = checkpoint_note(kitchen="small", size=5, root=b"\0" * 32, at=now, signer=SignerKey.read(SignerKey.new()))
    assert any("not in keys.txt" in each for each in findings(files, (stranger,)))
    assert any("another key than the one that you gave" in each for each in findings(files, (), (b"\1" * 32,)))


@pytest.mark.usefixtures("quick")
def test_a_verdict_that_does_not_follow_from_the_readings_is_found_though_the_book_is_whole(
    cast: Cast, cooling: CoolingRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The kitchen itself writes a better verdict, with every hash and signature in order."""
    good = dict(Entry.objects.filter(kind="cooling_closed").order_by("number").values_list("content", flat=True)[0])
    forged = good | {"verdict": "breached", "stages": [each | {"verdict": "breached"} for each in good["stages"]]}
    number = note(cast.manager, cooling.subject, "cooling_closed", at(cooling, 320), forged).number
    found = checker.check_file(written(cast, cooling, tmp_path / "forged.zip")).findings
    assert len(found) == 1
    assert found[0].startswith(f"Entry {number}, verdict on {cooling.subject}: written down is breached")


@pytest.mark.usefixtures("quick")
def test_a_book_that_was_changed_in_the_database_makes_a_package_that_says_so(
    cast: Cast, cooling: CoolingRecord, tmp_path: Path
) -> None:
    guards_take_down(connection)
    row = Entry.objects.filter(kind="reading").order_by("number")[0]
    Entry.objects.filter(pk=row.pk).update(content=row.content | {"counted": "4.9 C"})
    found = checker.check_file(written(cast, cooling, tmp_path / "changed.zip")).findings
    assert any(each.startswith(f"Entry {row.number} (") for each in found), found


# --- asking for it -------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("quick")
def test_a_worker_packs_it_and_members_with_the_right_take_it_away(
    cast: Cast, cooling: CoolingRecord, django_capture_on_commit_callbacks: Any
) -> None:
    day = day_of(cooling)
    with django_capture_on_commit_callbacks(execute=True):
        job_id = records_export_request(by=cast.inspector, first_day=day, last_day=day, idempotency_key="once")
    assert records_export_request(by=cast.inspector, first_day=day, last_day=day, idempotency_key="once") == job_id
    made = export_of(by=cast.manager, job_id=job_id)
    assert checker.check_file(made.path).findings == []
    assert made.name == f"records-small-{day}-to-{day}.zip"
    assert made.job.result is not None
    assert (made.job.result["logs"], made.job.result["bytes"]) == (2, made.path.stat().st_size)
    with pytest.raises(NotAllowed):
        exports_of(by=cast.cook)
    with pytest.raises(Http404):
        export_of(by=cast.outsider, job_id=job_id)
    made.path.unlink()
    with pytest.raises(Http404):
        export_of(by=cast.manager, job_id=job_id)


def test_days_that_cannot_be_are_refused(cast: Cast) -> None:
    for last, code in ((date(2027, 1, 1), "days-in-wrong-order"), (date(2031, 1, 1), "period-too-long")):
        with pytest.raises(OutOfRange) as caught:
            records_export_request(by=cast.inspector, first_day=date(2027, 2, 1), last_day=last)
        assert caught.value.code == code


@pytest.mark.usefixtures("quick")
def test_a_package_that_is_cancelled_leaves_nothing_behind(
    cast: Cast, cooling: CoolingRecord, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("production.queue.ring", lambda _job_id: None)
    day = day_of(cooling)
    job_id = records_export_request(by=cast.inspector, first_day=day, last_day=day)
    press = render_document
    stop = signed_in(cast.inspector)

    def stopped_meanwhile(*args: Any, **told: Any) -> Any:
        assert stop.post(f"/k/small/jobs/{job_id}/stop/").status_code == 302
        return press(*args, **told)

    monkeypatch.setattr(exports, "render_document", stopped_meanwhile)
    job_run(job_id=job_id, handlers=HANDLERS)
    assert Job.objects.get(pk=job_id).state == "cancelled"
    assert list(settings.EXPORT_DIR.iterdir()) == []


@pytest.mark.usefixtures("quick")
def test_a_worker_that_was_followed_by_another_leaves_no_file(
    cast: Cast, cooling: CoolingRecord, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("production.queue.ring", lambda _job_id: None)
    day = day_of(cooling)
    job_id = records_export_request(by=cast.inspector, first_day=day, last_day=day)

    def taken_over(path: Path) -> None:
        Job.objects.filter(pk=job_id).update(attempts=2)

    monkeypatch.setattr(exports, "_to_disk", taken_over)
    job_run(job_id=job_id, handlers=HANDLERS)
    assert Job.objects.get(pk=job_id).state == "running"
    assert list(settings.EXPORT_DIR.iterdir()) == []


@pytest.mark.usefixtures("quick")
def test_the_page_asks_for_days_shows_what_is_ready_and_hands_it_out(
    cast: Cast, cooling: CoolingRecord, django_capture_on_commit_callbacks: Any
) -> None:
    client, day = signed_in(cast.inspector), day_of(cooling).isoformat()
    address = "/k/small/inspection/export/"
    assert "Nothing packed yet" in client.get(address).content.decode()
    wrong = client.post(address, {"key": "a", "first_day": day, "last_day": "2020-01-01"})
    assert wrong.status_code == 422
    assert "before the first" in wrong.content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(address, {"key": "b", "first_day": day, "last_day": day})
    assert client.get(answer["Location"])["Location"] == address
    shown = client.get(address).content.decode()
    assert "2 logs" in shown
    job = Job.objects.get(kind="records_export")
    taken = client.get(f"{address}{job.pk}/")
    assert taken["Content-Type"] == "application/zip"
    assert b"".join(taken.streaming_content)[:2] == b"PK"  # type: ignore[attr-defined]
    assert signed_in(cast.cook).get(address).status_code == 403


@pytest.mark.usefixtures("quick")
def test_the_command_writes_the_same_package(cast: Cast, cooling: CoolingRecord, tmp_path: Path) -> None:
    day, path = day_of(cooling).isoformat(), tmp_path / "by-hand.zip"
    out = io.StringIO()
    name = cast.inspector.user.get_username()
    call_command(
        "export_records",
        "--kitchen=small",
        f"--person={name}",
        f"--from={day}",
        f"--to={day}",
        f"--out={path}",
        stdout=out,
    )
    assert "2 cooling logs" in out.getvalue()
    assert checker.check_file(path).findings == []
    with pytest.raises(CommandError, match="may not take out"):
        call_command(
            "export_records", "--kitchen=small", f"--person={cast.cook.user.get_username()}", f"--from={day}",
            f"--to={day}", f"--out={path}",
        )  # fmt: skip
