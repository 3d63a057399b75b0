#!/usr/bin/env python3
"""Check a package of records, or the paper of one cooling log, without the program that made it.

    python3 check_package.py PACKAGE.zip [--checkpoint NOTE]... [--key BASE64]...
    python3 check_package.py LOG.pdf     [--checkpoint NOTE]... [--key BASE64]...

It needs Python 3.9 or later and nothing else. It reads every file of the package against the signed list of files,
every record against its hash, the hashes against all checkpoints, and works out every cooling verdict anew from the
readings. The exit code is 0 when nothing is wrong, 1 when something is, 2 when the file cannot be read at all.

Give with --checkpoint a checkpoint that you have kept yourself, and with --key the public key that you know to be the
kitchen's. Without either, the package is only shown to agree with itself: whoever holds a signing key can make one.
"""

from __future__ import annotations

import argparse
import base64
import binascii
import csv
import functools
import hashlib
import io
import json
import re
import sys
import zipfile
import zlib
from datetime import datetime, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    Point = tuple[int, int, int, int]  # X, Y, Z and T with x = X/Z, y = Y/Z, xy = T/Z
    Dot = tuple[int, int]  # moment in microseconds, temperature in fifths of a millionth of a degree Fahrenheit
    Span = tuple[int | None, int | None]  # earliest and latest moment; None: not known
    Record = dict[str, Any]

MOST_FINDINGS = 200
LARGEST_BYTES = 8 * 1024**3


class Broken(Exception):
    """What was found cannot be read as what it should be."""


class Report:
    """Everything that is wrong, and what was checked."""

    def __init__(self) -> None:
        self.findings: list[str] = []
        self.checked: list[str] = []

    def wrong(self, sentence: str) -> None:
        if len(self.findings) < MOST_FINDINGS and sentence not in self.findings:
            self.findings.append(sentence)


# --- Ed25519: RFC 8032, section 5.1 ------------------------------------------------------------------------------

_P = 2**255 - 19
_ORDER = 2**252 + 27742317777372353535851937790883648493
_D = -121665 * pow(121666, _P - 2, _P) % _P
_ROOT_OF_MINUS_1 = pow(2, (_P - 1) // 4, _P)


def _sum(p: Point, q: Point) -> Point:
    """Section 5.1.4: one formula for any two points."""
    a = (p[1] - p[0]) * (q[1] - q[0]) % _P
    b = (p[1] + p[0]) * (q[1] + q[0]) % _P
    c = 2 * p[3] * q[3] * _D % _P
    d = 2 * p[2] * q[2] % _P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % _P, g * h % _P, f * g % _P, e * h % _P


def _times(factor: int, point: Point) -> Point:
    total = (0, 1, 1, 0)
    while factor:
        if factor & 1:
            total = _sum(total, point)
        point = _sum(point, point)
        factor >>= 1
    return total


def _same_point(p: Point, q: Point) -> bool:
    return (p[0] * q[2] - q[0] * p[2]) % _P == 0 and (p[1] * q[2] - q[1] * p[2]) % _P == 0


def _point(encoded: bytes) -> Point | None:
    """Section 5.1.3: the point behind 32 bytes, or nothing where there is none."""
    y = int.from_bytes(encoded, "little")
    sign, y = y >> 255, y & (2**255 - 1)
    if y >= _P:
        return None
    square = (y * y - 1) * pow(_D * y * y + 1, _P - 2, _P) % _P
    x = pow(square, (_P + 3) // 8, _P)
    if (x * x - square) % _P:
        x = x * _ROOT_OF_MINUS_1 % _P
    if (x * x - square) % _P or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = _P - x
    return x, y, 1, x * y % _P


_BASE = _point((4 * pow(5, _P - 2, _P) % _P).to_bytes(32, "little"))


@functools.lru_cache(maxsize=4096)
def signature_holds(key: bytes, message: bytes, signature: bytes) -> bool:
    """Section 5.1.7: does the signature belong to this message and key?"""
    if len(key) != 32 or len(signature) != 64 or _BASE is None:
        return False
    public, commitment = _point(key), _point(signature[:32])
    s = int.from_bytes(signature[32:], "little")
    if public is None or commitment is None or s >= _ORDER:
        return False
    challenge = int.from_bytes(hashlib.sha512(signature[:32] + key + message).digest(), "little") % _ORDER
    return _same_point(_times(s, _BASE), _sum(commitment, _times(challenge, public)))


# --- canonical JSON: RFC 8785, for text, whole numbers, true, false, nothing and lists ----------------------------


def _no_fraction(text: str) -> Any:
    raise Broken("holds a number with a fraction: " + text)


_decode = json.JSONDecoder(parse_float=_no_fraction, parse_constant=_no_fraction).decode
_encode = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode


def read_json(text: str) -> Any:
    """JSON without floating point."""
    return _decode(text)


def canonical(value: Any) -> bytes:
    """The one form of a value; the fields of records have names in ASCII, so their order is that of their letters."""
    return _encode(value).encode("utf-8")


# --- the tree: RFC 9162, section 2.1 ------------------------------------------------------------------------------


def leaf_of(data: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + data).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def roots_at(leaves: Sequence[bytes], sizes: Sequence[int]) -> dict[int, bytes]:
    """The root over the first so many leaves, for each of the sizes that there are."""
    wanted = set(sizes)
    found: dict[int, bytes] = {}
    tops: list[bytes] = []
    for size in range(len(leaves) + 1):
        if size in wanted:
            found[size] = _root(tops)
        if size < len(leaves):
            top, bits = leaves[size], size
            while bits & 1:
                top, bits = _node(tops.pop(), top), bits >> 1
            tops.append(top)
    return found


def _root(tops: Sequence[bytes]) -> bytes:
    if not tops:
        return hashlib.sha256(b"").digest()
    root = tops[-1]
    for top in reversed(tops[:-1]):
        root = _node(top, root)
    return root


def included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Section 2.1.3.2: does the path lead from this leaf to this root?"""
    if not 0 <= index < size:
        return False
    number, last, here = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if number & 1 or number == last:
            here = _node(step, here)
            while number and not number & 1:
                number, last = number >> 1, last >> 1
        else:
            here = _node(here, step)
        number, last = number >> 1, last >> 1
    return last == 0 and here == root


# --- signed notes -------------------------------------------------------------------------------------------------


class Note(NamedTuple):
    """A signed text of `name: value` lines."""

    heading: str
    said: dict[str, str]
    key: bytes

    def number(self, name: str) -> int:
        text = self.said[name]
        if not re.fullmatch(r"0|[1-9][0-9]{0,17}", text):
            raise Broken("says no number of " + name)
        return int(text)


CHECKPOINT = ("Potwright checkpoint 1", ("kitchen", "entries", "root", "time", "key", "signature"))
PACKAGE = ("Potwright package 1", ("kitchen", "from", "to", "entries", "files", "time", "key", "signature"))


def read_note(text: str, form: tuple[str, tuple[str, ...]]) -> Note:
    """A note whose signature belongs to the key that it names."""
    lines = text.strip().replace("\r\n", "\n").split("\n")
    heading, names = form
    if len(lines) != len(names) + 1 or lines[0] != heading:
        raise Broken("does not have the lines of a " + heading)
    said = {}
    for name, line in zip(names, lines[1:]):  # noqa: B905  Python 3.9
        if not line.startswith(name + ": "):
            raise Broken("has no line " + name)
        said[name] = line[len(name) + 2 :]
    key = unbase64(said["key"])
    message = "".join(line + "\n" for line in lines[:-1]).encode("utf-8")
    if not signature_holds(key, message, unbase64(said["signature"])):
        raise Broken("bears a signature that does not belong to what it says")
    return Note(heading, said, key)


def unbase64(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        raise Broken("holds what is not base64") from None


# --- verdicts on cooling logs -------------------------------------------------------------------------------------
# Written anew from what a verdict promises, not from the program: of all courses of temperature that the readings
# allow, the longest must keep the limit for `met`, and the shortest must miss it for `breached`.

WORST_FIRST = ("breached", "not_shown", "running", "not_started", "met")
_TEMP = re.compile(r"([+-]?)([0-9]{1,4})(?:\.([0-9]{1,6}))?")


def heat(text: str, unit: str) -> int:
    """A temperature as a whole number, so that both scales compare exactly: 5 F = 9 C + 160."""
    found = _TEMP.fullmatch(text)
    if found is None or unit not in ("C", "F"):
        raise Broken("holds a temperature that cannot be read: " + repr(text + " " + unit))
    millionths = int(found.group(2)) * 10**6 + int((found.group(3) or "").ljust(6, "0"))
    millionths = -millionths if found.group(1) == "-" else millionths
    return 5 * millionths if unit == "F" else 9 * millionths + 160 * 10**6


def moment(text: str) -> int:
    """A moment in microseconds."""
    try:
        at = datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        raise Broken("holds a time that cannot be read: " + repr(text)) from None
    if at.tzinfo is None:
        raise Broken("holds a time without its zone: " + repr(text))
    since = at - datetime(1970, 1, 1, tzinfo=timezone.utc)  # noqa: UP017  Python 3.9
    return (since.days * 86400 + since.seconds) * 10**6 + since.microseconds


def judge_closed(rule: dict[str, Any], dots: Sequence[Dot], event_at: int | None, hot_fact_at: int | None) -> list[str]:
    """How each stage of a closed log stands."""
    stages = rule["stages"]
    course = _hottest(dots)
    if stages[0]["clock"] == "from_event" and event_at is not None:
        course = [dot for dot in course if dot[0] >= event_at]
    states: list[str] = []
    before: Span | None = None
    for place, stage in enumerate(stages):
        follows = place > 0 and stage["clock"] in ("from_stage", "no_limit")
        start = before if follows else _clock_start(stages[0], course, event_at, hot_fact_at)
        states.append("not_started" if start is None and stage["to_temp"] is not None else _state(stage, course, start))
        before = _stage_end(stage, course, start)
    return states


def _hottest(dots: Sequence[Dot]) -> list[Dot]:
    """In the order of measuring; of two at one moment the hotter."""
    top: dict[int, int] = {}
    for at, temp in dots:
        top[at] = max(temp, top.get(at, temp))
    return sorted(top.items())


def _clock_start(stage: dict[str, Any], course: Sequence[Dot], event_at: int | None, fact: int | None) -> Span:
    """When the temperature at which the clock starts was passed."""
    if stage["clock"] == "from_event":
        return event_at, event_at
    if stage["from_temp"] is None:
        return fact, None
    line = heat(stage["from_temp"], stage["unit"])
    hot: Dot | None = None
    for at, temp in course:
        if temp < line:
            earliest = fact if hot is None else hot[0]
            if earliest is not None and earliest > at:
                return None, at  # the record that it was hot speaks against the reading: nobody knows
            return earliest, (hot[0] if hot is not None and hot[1] == line else at)
        hot = (at, temp)
    return (fact if hot is None else hot[0]), None


def _target(stage: dict[str, Any], course: Sequence[Dot]) -> tuple[Dot | None, Dot | None]:
    """The last reading above the target, and the one after it."""
    line = heat(stage["to_temp"], stage["unit"])
    above: Dot | None = None
    after: Dot | None = None
    for dot in course:
        if dot[1] > line:
            above, after = dot, None
        elif after is None:
            after = dot
    return above, after


def _stage_end(stage: dict[str, Any], course: Sequence[Dot], start: Span | None) -> Span | None:
    """When the target was passed for good: the bounds of the next stage's start."""
    if stage["to_temp"] is None:
        return None
    above, after = _target(stage, course)
    if after is None:
        return None
    if after[1] == heat(stage["to_temp"], stage["unit"]):
        return after[0], after[0]
    return (above[0] if above is not None else (start or (None, None))[0]), after[0]


def _state(stage: dict[str, Any], course: Sequence[Dot], start: Span | None) -> str:
    if stage["to_temp"] is None:
        return "not_shown"
    above, after = _target(stage, course)
    if stage["max_minutes"] is None:
        return "not_shown" if after is None else "met"
    earliest, latest = start or (None, None)
    limit = stage["max_minutes"] * 60 * 10**6
    shortest = 0 if above is None or latest is None else above[0] - latest
    if latest is not None and max(shortest, 0) >= limit:
        return "breached"
    if earliest is None or after is None:
        return "not_shown"
    longest = after[0] - earliest
    return "met" if longest < limit or (longest == limit and not stage["strict"]) else "not_shown"


def worst_of(states: Sequence[str]) -> str:
    """A log is as its worst stage."""
    return min(states, key=WORST_FIRST.index)


# --- cooling logs out of records ----------------------------------------------------------------------------------

VERDICTS = ("cooling_closed", "cooling_judged_again", "reheated")


class Logs:
    """The records of cooling logs by their name."""

    def __init__(self, rules: dict[str, Any]) -> None:
        self.rules = rules
        self.of: dict[str, list[Record]] = {}
        self.judged = 0

    def hear(self, record: Record) -> None:
        if record["subject"].startswith("cooling/"):
            self.of.setdefault(record["subject"], []).append(record)

    def check(self, report: Report) -> None:
        for subject in sorted(self.of):
            stands = ""
            for record in self.of[subject]:
                said = record["content"]
                if record["kind"] in VERDICTS and isinstance(said, dict) and "verdict" in said:
                    self._one(subject, record, stands, report)
                    stands = str(said.get("stands", said["verdict"]))

    def _one(self, subject: str, record: Record, stands: str, report: Report) -> None:
        place = "Entry {}, verdict on {}".format(record["number"], subject)
        said = record["content"]
        try:
            states = self._worked_out(subject, record)
            told = [stage["verdict"] for stage in said["stages"]]
        except (Broken, KeyError, TypeError, ValueError, AttributeError) as error:
            report.wrong(f"{place} cannot be worked out: {_why(error)}.")
            return
        self.judged += 1
        if (worst_of(states), states) != (said["verdict"], told):
            report.wrong(
                "{}: written down is {} (stages {}), the readings give {} (stages {}).".format(
                    place, said["verdict"], ", ".join(told), worst_of(states), ", ".join(states)
                )
            )
        if record["kind"] == "cooling_judged_again":
            after = worst_of([said["before"], said["verdict"]])
            if said["before"] != stands or said["stands"] != after:
                report.wrong("{}: after {} the verdict {} stands, not {}.".format(place, stands, after, said["stands"]))

    def _worked_out(self, subject: str, record: Record) -> list[str]:
        """Of the readings that were there when it was judged: without those in doubt, and with those that may be."""
        opened = self._opened(subject)
        rule = self.rules[record["content"]["rule"]]
        if opened["content"]["rule"] != record["content"]["rule"]:
            raise Broken("it was judged by another rule than it was opened under")
        until = record["number"]
        dots = dict(self._dots(subject, until))
        whole = opened["content"].get("parted_from", "")
        if whole:
            self._opened(whole)
            parted_at = moment(opened["happened_at"])
            dots.update((number, dot) for number, dot in self._dots(whole, until) if dot[0] <= parted_at)
        event_at, fact = (_moment_or_none(opened["content"][name]) for name in ("event_at", "hot_fact_at"))
        for later in self.of[subject]:
            if later["kind"] == "hot_fact_changed" and later["number"] < until:
                fact = _moment_or_none(later["content"]["hot_fact_at"])
        doubted = record["content"]["doubted"]
        cold, either = _numbers(doubted["no_evidence"]), _numbers(doubted["both_ways"])
        sure = [dot for number, dot in dots.items() if number not in cold and number not in either]
        states = judge_closed(rule, sure, event_at, fact)
        if not either:
            return states
        more = [dot for number, dot in dots.items() if number not in cold]
        return min(
            (states, judge_closed(rule, more, event_at, fact)), key=lambda each: WORST_FIRST.index(worst_of(each))
        )

    def _opened(self, subject: str) -> Record:
        for record in self.of.get(subject, []):
            if record["kind"] == "cooling_opened":
                return record
        raise Broken(f"the opening of {subject} is not here")

    def _dots(self, subject: str, until: int) -> Iterator[tuple[int, Dot]]:
        """The readings that were written down before an entry and not set aside by then."""
        earlier = [each for each in self.of[subject] if each["number"] < until]
        said = [each for each in earlier if each["kind"] in ("reading", "reading_excluded")]
        said = [each for each in said if "confirms" not in each["content"]]
        aside = {each["corrects"] for each in said}
        for each in said:
            if each["kind"] == "reading" and each["number"] not in aside:
                temp, unit = each["content"]["counted"].split(" ")
                at = moment(each["content"].get("measured_at") or each["happened_at"])
                yield each["number"], (at, heat(temp, unit))


def _numbers(ranges: Sequence[Sequence[int]]) -> set[int]:
    return {number for first, last in ranges for number in range(first, last + 1)}


def _moment_or_none(text: str) -> int | None:
    return moment(text) if text else None


def _why(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error) or type(error).__name__


# --- the package --------------------------------------------------------------------------------------------------

FIELDS = (
    "before", "by", "by_login", "by_name", "content", "corrects", "happened_at", "key", "kind", "kitchen", "made_at",
    "number", "reason", "role", "subject",
)  # fmt: skip
COLUMNS = (
    "number", "made_at", "happened_at", "kind", "subject", "by_name", "role", "corrects", "reason", "content", "key",
)  # fmt: skip
NEEDED = (
    "README.txt", "check_package.py", "checkpoints.txt", "contents.json", "entry.schema.json", "files.json", "keys.txt",
    "package.txt", "records/entries.csv", "records/entries.jsonl", "records/leaves.txt", "rules.json",
)  # fmt: skip


class Package:
    """A package whose parts are checked one after the other; each check goes on where it can."""

    def __init__(self, archive: zipfile.ZipFile, outside: Sequence[str], keys: Sequence[bytes]) -> None:
        self.archive = archive
        self.outside = outside
        self.given_keys = tuple(keys)
        self.own_keys: tuple[bytes, ...] = ()
        self.report = Report()
        self.kitchen = ""
        self.leaves: list[bytes] = []

    def check(self) -> Report:
        for name in self._missing():
            self.report.wrong(f"{name} is missing.")
        for what, step in (
            ("keys.txt", self._keys),
            ("package.txt", self._note),
            ("files.json", self._files),
            ("records/leaves.txt", self._hashes),
            ("checkpoints.txt", self._checkpoints),
            ("records/entries.jsonl", self._records),
        ):
            try:
                step()
            except (Broken, KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError) as error:
                self.report.wrong(f"{what}: {_why(error)}.")
        return self.report

    def _missing(self) -> list[str]:
        there = set(self.archive.namelist())
        return [name for name in NEEDED if name not in there]

    def text(self, name: str) -> str:
        """What is no text in UTF-8 is kept as it is, so that the line with it is named and not the file alone."""
        return self.data_of(name).decode("utf-8", "surrogateescape")

    def data_of(self, name: str) -> bytes:
        try:
            return self.archive.read(name)
        except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError) as error:
            raise Broken(f"cannot be unpacked ({error})") from None

    def _keys(self) -> None:
        self.own_keys = tuple(unbase64(line) for line in self.text("keys.txt").split())

    def _note(self) -> None:
        """What the package says of itself, and which list of files it vouches for."""
        note = read_note(self.text("package.txt"), PACKAGE)
        self.kitchen = note.said["kitchen"]
        self._trusted("package.txt", note.key)
        if hashlib.sha256(self.data_of("files.json")).digest() != unbase64(note.said["files"]):
            self.report.wrong("files.json is not the list that package.txt vouches for.")
        contents = read_json(self.text("contents.json"))
        for name in ("kitchen", "from", "to", "entries"):
            if str(contents[name]) != note.said[name]:
                self.report.wrong(f"contents.json says another {name} than package.txt.")
        self.report.checked.append("signed by the key {}".format(note.said["key"]))

    def _files(self) -> None:
        """Every file is as it was when the package was signed."""
        listed = self.data_of("files.json")
        files = {each["name"]: each for each in read_json(listed.decode("utf-8"))["files"]}
        names = self.archive.namelist()
        for name in sorted({name for name in names if names.count(name) > 1}) if len(set(names)) < len(names) else ():
            self.report.wrong(f"{name} is in the package more than once.")
        for name in sorted(set(names) - set(files) - {"package.txt", "files.json"}):
            self.report.wrong(f"{name} does not belong to the package: it is not on the list of files.")
        for name in sorted(files):
            self._as_listed(name, files[name])
        self.report.checked.append(f"{len(files)} files against the signed list")

    def _as_listed(self, name: str, listed: dict[str, Any]) -> None:
        if name not in self.archive.namelist():
            self.report.wrong(f"{name} is on the list of files, but it is not in the package.")
            return
        try:
            data = self.data_of(name)
        except Broken as error:
            self.report.wrong(f"{name} {error}.")
            return
        if len(data) != listed["bytes"] or hashlib.sha256(data).hexdigest() != listed["sha256"]:
            self.report.wrong(f"{name} is not as it was when the package was signed.")

    def _trusted(self, name: str, key: bytes) -> None:
        if key not in self.own_keys:
            self.report.wrong(f"{name} was signed with a key that is not in keys.txt.")
        if self.given_keys and key not in self.given_keys:
            self.report.wrong(f"{name} was signed with another key than the one that you gave.")

    def _hashes(self) -> None:
        """One line per record of the kitchen's whole book, also of those that are not in the package."""
        lines = self.text("records/leaves.txt").split("\n")
        if lines.pop() != "":
            self.report.wrong("records/leaves.txt does not end with a line.")
        for number, line in enumerate(lines, 1):
            if re.fullmatch("[0-9a-f]{64}", line) is None:
                raise Broken(f"line {number} is no hash")
            self.leaves.append(bytes.fromhex(line))
        size = read_json(self.text("contents.json"))["entries"]
        if len(self.leaves) != size:
            first = min(len(self.leaves), size) + 1
            self.report.wrong(
                f"records/leaves.txt has {len(self.leaves)} lines, the package vouches for {size} entries: "
                f"from entry {first} on they differ."
            )

    def _checkpoints(self) -> None:
        """The hashes give the roots that were signed, here and elsewhere."""
        texts = [(f"Checkpoint {n} of checkpoints.txt", text) for n, text in enumerate(self._notes(), 1)]
        beside = self._read(texts, own=True)
        given = [(f"The checkpoint given ({n})", text) for n, text in enumerate(self.outside, 1)]
        elsewhere = self._read(given, own=False)
        roots = roots_at(self.leaves, [note.number("entries") for _, note in beside + elsewhere])
        for notes in (beside, elsewhere):
            self._against(notes, roots)
        size = read_json(self.text("contents.json"))["entries"]
        if not any(note.number("entries") == size for _, note in beside):
            self.report.wrong(f"checkpoints.txt holds no checkpoint over all {size} entries.")
        said = f"{len(beside)} checkpoints"
        self.report.checked.append(said + (f" and {len(elsewhere)} that you gave" if self.outside else ""))

    def _notes(self) -> list[str]:
        text = self.text("checkpoints.txt")
        if not text.endswith("\n"):
            self.report.wrong("checkpoints.txt does not end with a line.")
        return [part for part in text.split("\n\n") if part.strip()]

    def _read(self, texts: Sequence[tuple[str, str]], *, own: bool) -> list[tuple[str, Note]]:
        found = []
        for name, text in texts:
            try:
                note = read_note(text, CHECKPOINT)
                note.number("entries")
                unbase64(note.said["root"])
            except Broken as error:
                self.report.wrong(f"{name} {error}.")
                continue
            if note.said["kitchen"] != self.kitchen:
                self.report.wrong("{} is of the kitchen {}.".format(name, note.said["kitchen"]))
            self._trusted(name, note.key)
            found.append((name, note))
        return found

    def _against(self, notes: Sequence[tuple[str, Note]], roots: dict[int, bytes]) -> None:
        proven = 0
        for name, note in sorted(notes, key=lambda each: each[1].number("entries")):
            size = note.number("entries")
            if size not in roots:
                self.report.wrong(
                    f"{name} vouches for {size} entries, the package has {len(self.leaves)}: entries "
                    f"{len(self.leaves) + 1} to {size} were taken away, or the checkpoint is younger than the package."
                )
            elif roots[size] != unbase64(note.said["root"]):
                self.report.wrong(
                    f"{name} vouches for other entries than those that are here: something among entries "
                    f"{proven + 1} to {size} was written anew."
                )
            else:
                proven = size

    def _records(self) -> None:
        """Every record hashes to its line, follows the one before, and is the same in both forms; then the verdicts."""
        contents = read_json(self.text("contents.json"))
        logs = Logs({rule["code"]: rule for rule in read_json(self.text("rules.json"))["rules"]})
        wanted = [number for first, last in contents["numbers"] for number in range(first, last + 1)]
        rows = self._rows()
        lines = self.text("records/entries.jsonl").split("\n")
        if lines.pop() != "":
            self.report.wrong("records/entries.jsonl does not end with a line.")
        last, held = 0, set(wanted)
        for place, line in enumerate(lines, 1):
            record = self._record(place, line)
            if record is None:
                continue
            number = record["number"]
            if number <= last or number not in held:
                self.report.wrong(
                    f"records/entries.jsonl, line {place}: entry {number} is out of its order, stands twice "
                    "or was put in."
                )
            last = max(last, number)
            held.discard(number)
            self._row(number, record, rows)
            logs.hear(record)
        for first, until in _ranges(sorted(held)):
            self.report.wrong(f"records/entries.jsonl: entries {first} to {until} are missing.")
        for number in sorted(rows):
            self.report.wrong(f"records/entries.csv: entry {number} is not among the records, or stands twice.")
        logs.check(self.report)
        self.report.checked.append(f"{len(lines)} records of {len(self.leaves)}")
        self.report.checked.append(f"{logs.judged} verdicts worked out anew")

    def _record(self, place: int, line: str) -> Record | None:
        name = f"records/entries.jsonl, line {place}"
        record: Record = {}
        try:
            record = read_json(line)
            whole = isinstance(record, dict) and tuple(sorted(record)) == FIELDS and type(record["number"]) is int
            data = line.encode("utf-8")
        except (Broken, ValueError, RecursionError):
            whole = False
        if not whole:
            self.report.wrong(f"{name} is no record.")
            return None
        number = record["number"]
        kept = self.leaves[number - 1] if 0 < number <= len(self.leaves) else None
        if leaf_of(data) != kept or canonical(record) != data:
            self.report.wrong(f"Entry {number} ({name}) is not as it was written down.")
        elif number > 1 and record["before"] != self.leaves[number - 2].hex():
            self.report.wrong(f"Entry {number} ({name}) was written after another entry than the one before it.")
        if record["kitchen"] != self.kitchen:
            self.report.wrong(f"Entry {number} ({name}) is of another kitchen.")
        return record

    def _rows(self) -> dict[str, tuple[int, list[str]]]:
        """The table by the number of the entry; a second row of the same number is left over at the end."""
        csv.field_size_limit(2**24)
        reader = csv.reader(io.StringIO(self.text("records/entries.csv"), newline=""), strict=True)
        found: dict[str, tuple[int, list[str]]] = {}
        before = 0
        try:
            if tuple(next(reader, ())) != COLUMNS:
                self.report.wrong("records/entries.csv, row 1: these are not its columns.")
            for place, row in enumerate(reader, 2):
                name = row[0] if row else ""
                if not name.isdecimal() or int(name) <= before:
                    self.report.wrong(
                        "records/entries.csv, row {}: entry {} is out of its order.".format(place, name or "?")
                    )
                before = int(name) if name.isdecimal() else before
                found[f"{name} (row {place})" if name in found else name] = (place, row)
        except csv.Error as error:
            self.report.wrong(f"records/entries.csv, after entry {before}: {error}.")
        return found

    def _row(self, number: int, record: Record, rows: dict[str, tuple[int, list[str]]]) -> None:
        place, row = rows.pop(str(number), (0, []))
        if not place:
            self.report.wrong(f"records/entries.csv: entry {number} is missing.")
        elif row != table_row(record):
            self.report.wrong(f"records/entries.csv, row {place}: entry {number} is not as it was written down.")


def table_row(record: Record) -> list[str]:
    """A record as a row of the table."""
    shown = dict(record, content=canonical(record["content"]).decode("utf-8"))
    return [str(shown[name]) for name in COLUMNS]


def _ranges(numbers: Sequence[int]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for number in numbers:
        if found and found[-1][1] == number - 1:
            found[-1] = (found[-1][0], number)
        else:
            found.append((number, number))
    return found


# --- the paper of one log -----------------------------------------------------------------------------------------


def attached(pdf: bytes) -> dict[str, Any]:
    """The data that hang on the paper."""
    for found in re.finditer(rb"stream\r?\n(.*?)\nendstream", pdf, re.DOTALL):
        try:
            data = zlib.decompressobj().decompress(found.group(1))
        except zlib.error:
            data = found.group(1)
        if data.startswith(b'{"about":"potwright proof 1"'):
            read = json.loads(data.decode("utf-8"))
            if isinstance(read, dict):
                return read
    raise Broken("has no records attached")


def check_paper(proof: dict[str, Any], outside: Sequence[str], keys: Sequence[bytes]) -> Report:
    """Every record of the paper stands in the book of its checkpoint; its verdicts are worked out anew."""
    report = Report()
    note = read_note(proof["checkpoint"], CHECKPOINT)
    size, root = note.number("entries"), unbase64(note.said["root"])
    if keys and note.key not in keys:
        report.wrong("The checkpoint was signed with another key than the one that you gave.")
    logs = Logs({rule["code"]: rule for rule in proof["rules"]})
    last = 0
    for place, each in enumerate(proof["entries"], 1):
        data = unbase64(each["leaf"])
        record = read_json(data.decode("utf-8"))
        number = each["index"] + 1
        path = [unbase64(step) for step in each["path"]]
        if (
            record["number"] != number
            or each["size"] != size
            or not included(leaf_of(data), number - 1, size, path, root)
        ):
            report.wrong(
                "Record {} of the paper, entry {}, does not stand in the book.".format(place, record["number"])
            )
        if number <= last:
            report.wrong(f"Record {place} of the paper, entry {number}, stands twice or out of its order.")
        last = number
        logs.hear(record)
    logs.check(report)
    for text in outside:
        _same_book(read_note(text, CHECKPOINT), note, report)
    report.checked += ["{} records against the checkpoint over {}".format(len(proof["entries"]), size)]
    report.checked += [f"{logs.judged} verdicts worked out anew", "signed by the key {}".format(note.said["key"])]
    return report


def _same_book(given: Note, note: Note, report: Report) -> None:
    """Of one size the root must be the same; for another size the package is needed."""
    if given.said["kitchen"] != note.said["kitchen"] or given.key != note.key:
        report.wrong("The checkpoint given is of another kitchen or key than that of the paper.")
    elif given.said["entries"] != note.said["entries"]:
        report.wrong(
            "The checkpoint given is over {} entries, that of the paper over {}: ask for the package, which shows how "
            "one grew into the other.".format(given.said["entries"], note.said["entries"])
        )
    elif given.said["root"] != note.said["root"]:
        report.wrong("The checkpoint given vouches for other entries than that of the paper.")


# --- the way in ---------------------------------------------------------------------------------------------------


def check_file(path: Path, outside: Sequence[str] = (), keys: Sequence[bytes] = ()) -> Report:
    """Check a package or the paper of a log."""
    data = path.open("rb")
    with data:
        if data.read(5) == b"%PDF-":
            data.seek(0)
            try:
                return check_paper(attached(data.read()), outside, keys)
            except (Broken, KeyError, TypeError, ValueError, AttributeError) as error:
                report = Report()
                report.wrong(f"{path.name}: {_why(error)}.")
                return report
        try:
            with zipfile.ZipFile(data) as archive:
                return Package(archive, outside, keys).check()
        except (zipfile.BadZipFile, EOFError, RuntimeError, OSError) as error:
            raise Broken(f"cannot be opened as a package: {error}") from None


def main(arguments: Sequence[str] | None = None) -> int:
    told = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    told.add_argument("file", type=Path, help="the package (ZIP), or the paper of one log (PDF)")
    told.add_argument("--checkpoint", type=Path, action="append", default=[], help="a checkpoint that you have kept")
    told.add_argument("--key", action="append", default=[], help="the kitchen's public key, in base64")
    asked = told.parse_args(arguments)
    try:
        outside = [each.read_text(encoding="utf-8") for each in asked.checkpoint]
        report = check_file(asked.file, outside, [unbase64(each) for each in asked.key])
    except (Broken, OSError, UnicodeDecodeError) as error:
        sys.stderr.write(f"{asked.file} {error}\n")
        return 2
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.stdout.write("Checked: {}.\n".format("; ".join(report.checked)))
    for finding in report.findings:
        sys.stdout.write(f"WRONG: {finding}\n")
    if not report.findings:
        sys.stdout.write("Nothing is wrong.\n")
        if not (outside or asked.key):
            sys.stdout.write(
                "Compare the key with one that you know: this only shows that the file agrees with itself.\n"
            )
    return 1 if report.findings else 0


if __name__ == "__main__":
    sys.exit(main())
