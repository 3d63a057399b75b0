"""A file of cooling cases: read completely and judged, or refused with every problem."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from hypothesis import given
from hypothesis import strategies as st

from production.domain.records import case_file
from production.domain.records.case_file import BadCases, parse_cases
from production.domain.records.cases import judge_case


def stamp(minute: int) -> str:
    return f"2026-06-03T{10 + minute // 60:02}:{minute % 60:02}:00-04:00"


def log(text: str) -> list[dict[str, Any]]:
    pairs = (entry.split(":") for entry in text.split())
    return [{"at": stamp(int(minute)), "temp": temp, "unit": "F"} for minute, temp in pairs]


def case(**changes: Any) -> dict[str, Any]:
    readings = log("0:135 60:95 120:70 240:52 360:41")
    return {"id": "A", "rule_code": "FDA_A", "closed": True, "readings": readings} | changes


def judged(*cases: dict[str, Any]) -> list[dict[str, Any]]:
    return [judge_case(each) for each in parse_cases(json.dumps(cases).encode())]


def problems(content: Any) -> dict[str, str]:
    raw = content if isinstance(content, bytes) else json.dumps(content).encode()
    with pytest.raises(BadCases) as caught:
        parse_cases(raw)
    return {each.pointer: each.sentence for each in caught.value.problems}


# --- answers ---


def test_an_answer_has_the_verdict_its_reasons_and_those_of_each_stage() -> None:
    [answer] = judged(case(readings=log("0:135 60:95 120:70 240:52 361:41")))
    assert (answer["id"], answer["verdict"]) == ("A", "not_shown")
    assert [(each["number"], each["state"]) for each in answer["stages"]] == [(1, "met"), (2, "not_shown")]
    assert [each["longest_min"] for each in answer["stages"]] == [120, 361]
    assert answer["reasons"] == answer["stages"][1]["reasons"]
    assert "41 °F on 3 Jun 16:01 UTC-04:00 is the first that shows 41 °F or less for good" in answer["reasons"][1]


def test_cases_are_answered_in_their_order_with_their_ids() -> None:
    answers = judged(case(id="later"), case(id=7), case(id="Ünïcode 1"))
    assert [each["id"] for each in answers] == ["later", 7, "Ünïcode 1"]


def test_an_empty_list_has_an_empty_answer() -> None:
    assert judged() == []


def test_an_open_log_is_judged_as_of_a_moment_without_what_was_measured_later() -> None:
    answer = judged(case(closed=None, as_of=stamp(240)))[0]
    assert [each["state"] for each in answer["stages"]] == ["met", "running"]
    assert "Readings measured after the moment of judging, which are left out: 1." in answer["notes"]


def test_a_log_is_open_until_the_moment_of_its_closing() -> None:
    short = log("0:135 60:95 110:70")
    assert judged(case(readings=short, closed=stamp(130)))[0]["verdict"] == "not_shown"
    assert judged(case(readings=short, closed=stamp(130), as_of=stamp(120)))[0]["verdict"] == "running"
    assert judged(case(readings=short, closed=stamp(130), as_of=stamp(130)))[0]["verdict"] == "not_shown"
    assert judged(case(readings=short, closed=True, as_of=stamp(120)))[0]["verdict"] == "not_shown"


def test_event_hot_fact_and_readings_set_aside_are_heeded() -> None:
    late_start = log("0:128 45:95 90:69 240:41")
    assert judged(case(readings=late_start))[0]["verdict"] == "not_shown"
    assert judged(case(readings=late_start, hot_fact_at="2026-06-03T09:35:00-04:00"))[0]["verdict"] == "met"
    cooked = [{"at": stamp(150), "temp": "3", "unit": "C"}]
    chilled = case(rule_code="IE_GN15", readings=cooked)
    assert judged(chilled)[0]["verdict"] == "not_shown"
    assert judged(chilled | {"event_at": stamp(0)})[0]["verdict"] == "met"
    aside = [*log("0:135 60:95 120:70 240:52 360:41"), {"at": stamp(200), "temp": "80", "unit": "F", "excluded": True}]
    assert judged(case(readings=aside))[0]["verdict"] == "met"


def test_readings_entered_late_are_noted() -> None:
    answer = judged(case(readings=log("0:135 110:68 60:92 350:41")))[0]
    assert answer["verdict"] == "met"
    assert "Readings entered after a later one: 1." in answer["notes"]


# --- problems ---


def test_every_problem_is_told_at_once_in_the_order_of_the_file() -> None:
    readings = [
        {"at": "2026-06-03T10:00:00", "temp": 135, "unit": "K"},
        {"at": stamp(1), "temp": "7,0", "unit": "F", "exclude": True},
        5,
    ]
    found = problems([case(rule_code="FDA_X", closed=None, readings=readings), {"id": True, "closed": "soon"}, 7])
    assert list(found) == [
        "/0/as_of",
        "/0/readings/0/at",
        "/0/readings/0/temp",
        "/0/readings/0/unit",
        "/0/readings/1/exclude",
        "/0/readings/1/temp",
        "/0/readings/2",
        "/0/rule_code",
        "/1/closed",
        "/1/id",
        "/1/readings",
        "/1/rule_code",
        "/2",
    ]
    assert found["/0/readings/1/temp"].startswith(
        "Case 'A', reading no. 2, temp: \"7,0\" does not fit here; allowed is"
    )
    assert found["/0/readings/1/exclude"].endswith("is not known here; did you mean excluded?")
    assert found["/1/readings"] == "Case no. 2, readings: is missing; allowed is a list of readings."
    assert found["/2"].startswith("Case no. 3: 7 does not fit here")


def test_the_same_id_twice_is_refused_in_both_places() -> None:
    assert list(problems([case(), case(id="B"), case()])) == ["/0/id", "/2/id"]


@pytest.mark.parametrize("name", ["", "x" * 201, "half a \ud800 character", "bell \a", 1.5, None, True, ["A"]])
def test_an_id_is_a_whole_number_or_a_printable_text(name: object) -> None:
    assert list(problems([case(id=name)])) == ["/0/id"]


def test_a_file_that_is_too_long_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(case_file, "LARGEST_BYTES", 10)
    assert problems(b" " * 11) == {"": "The file is longer than 64 MiB: judge it in parts."}
    assert "not JSON" in problems(b" " * 10)[""]


def test_an_open_log_needs_a_moment() -> None:
    assert list(problems([case(closed=False)])) == ["/0/as_of"]


def test_a_key_written_twice_is_refused() -> None:
    text = json.dumps([case()]).replace('"temp": "52"', '"temp": "52", "temp": "41"')
    assert problems(text.encode()) == {"/0/readings/3/temp": "'temp' is written twice."}


@pytest.mark.parametrize("temp", [135, 135.5, None, "", "70.4F", "NaN", "1e2", ["70"], "7 0", "7" * 30])
def test_a_temperature_is_digits_as_text(temp: object) -> None:
    readings = [{"at": stamp(0), "temp": temp, "unit": "F"}]
    assert list(problems([case(readings=readings)])) == ["/0/readings/0/temp"]


@pytest.mark.parametrize("moment", ["2026-06-03", "2026-06-03T10:00:00", "10:00", 1780000000, "1995-01-01T00:00Z", ""])
def test_a_moment_has_a_date_a_time_and_an_offset(moment: object) -> None:
    assert list(problems([case(hot_fact_at=moment)])) == ["/0/hot_fact_at"]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"\xff\xfe", "not UTF-8"),
        (b"{}", "allowed is a list of cases"),
        (b"null", "allowed is a list of cases"),
        (b"[" * 50_000, "nested too deeply"),
        (b'[{"x":' * 400 + b"1" + b"}]" * 400, "is not known here"),
        (b"[" + b"9" * 5000 + b"]", "too many digits"),
    ],
    ids=["empty", "half", "binary", "object", "null", "deep", "deep but read", "digits"],
)
def test_what_is_no_list_of_cases_is_refused_in_a_sentence(content: bytes, told: str) -> None:
    assert any(told in sentence for sentence in problems(content).values())


def test_of_very_many_problems_two_hundred_are_listed() -> None:
    with pytest.raises(BadCases, match="has 1000 problems") as caught:
        parse_cases(json.dumps([5] * 1000).encode())
    assert len(caught.value.problems) == 200


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from([stamp(3), "70", "F"]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from([*case(), "as_of", "at", "temp", "unit", "x"]), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(values, st.sampled_from([*case(), "as_of", "event_at", "hot_fact_at"]))
def test_any_json_value_is_judged_or_refused(value: Any, field: str) -> None:
    content = json.dumps([case(**{field: value})]).encode()
    try:
        cases = parse_cases(content)
    except BadCases:
        return
    assert all(judge_case(each)["verdict"] for each in cases)


# --- the command ---


def test_the_command_prints_the_answers_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "cases.json"
    file.write_text(json.dumps([case()]))
    call_command("judge_cooling", str(file))
    [answer] = json.loads(capsys.readouterr().out)
    assert answer["verdict"] == "met"


def test_the_command_reads_standard_input(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps([case(id=3)]).encode())))
    call_command("judge_cooling", "-")
    assert json.loads(capsys.readouterr().out)[0]["id"] == 3


def test_the_command_refuses_with_two_and_prints_nothing_else(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "cases.json"
    file.write_text(json.dumps([case(rule_code="FDA_X"), case(id="B", readings=None)]))
    with pytest.raises(CommandError, match="has 2 problems") as caught:
        call_command("judge_cooling", str(file))
    assert caught.value.returncode == 2
    assert "\n/0/rule_code: Case 'A', rule_code" in str(caught.value)
    assert "\n/1/readings: Case 'B', readings" in str(caught.value)
    assert capsys.readouterr().out == ""


def test_the_command_says_when_there_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read") as caught:
        call_command("judge_cooling", str(tmp_path / "nothing.json"))
    assert caught.value.returncode == 2
