"""The floor pages: what stands on them, for whom, how large they get, and how many queries they take."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from production.models import CoolingRecord, Entry, Kitchen, Plan, PlanningWeek, Reading, RunRecord
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, a_thermometer, act, opened, read
from tests.web.conftest import signed_in

FLOOR = "/k/small/floor/"
COOLING = f"{FLOOR}cooling/"


@pytest.fixture
def published(cast: Cast, plan: Plan) -> Plan:
    Plan.objects.filter(pk=plan.pk).update(status=Plan.Status.PUBLISHED, published_at=timezone.now())
    return plan


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    return a_run(cast.manager, planning_week)


def cooling_since(cast: Cast, run: RunRecord, minutes: int) -> CoolingRecord:
    return opened(cast.cook, run, at=timezone.now() - timedelta(minutes=minutes))


def page_of(run: RunRecord | None = None, *, week: PlanningWeek | None = None, code: str = "") -> str:
    if run is not None:
        return f"{FLOOR}runs/{run.subject.removeprefix('run/')}/"
    assert week is not None
    return f"{FLOOR}runs/{week.starts_on}/{code}/"


def text_of(cast: Cast, href: str, *, role: str = "cook") -> str:
    answer = signed_in(getattr(cast, role)).get(href)
    assert answer.status_code == 200, href
    return str(answer.content.decode())


# --- what stands there ------------------------------------------------------------------------------------------------


def test_an_empty_floor_says_what_it_is_for(cast: Cast, planning_week: PlanningWeek) -> None:
    assert "No plan is published" in text_of(cast, FLOOR)
    assert "Nothing is cooling now" in text_of(cast, COOLING)


def test_the_board_names_the_runs_to_begin_and_leads_to_their_pages(cast: Cast, published: Plan) -> None:
    text = text_of(cast, FLOOR)
    first = min(published.result["runs"], key=lambda run: str(run["start_at"]))
    href = page_of(week=published.week, code=first["code"])
    assert f'href="{href}"' in text
    assert "Begin this run" in text_of(cast, href)


def test_the_first_open_step_is_the_current_one_and_two_follow(cast: Cast, run: RunRecord) -> None:
    text = text_of(cast, page_of(run))
    assert re.findall(r'<li class="step (\w+)"', text)[:4] == ["now", "next", "next", "later"]


def test_a_group_shows_minutes_left_the_last_reading_and_what_to_do(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 70)
    for minute, temp in ((2, "82"), (20, "60"), (35, "52"), (62, "44")):
        read(cast.cook, cooling, minute, temp)
    text = text_of(cast, COOLING)
    assert re.search(r'data-left="[^"]+">1 h \d+ min left<|data-left="[^"]+">\d+ min left<', text)
    assert "44 °C at" in text
    assert 'class="do-now"' in text


def test_a_group_that_nobody_has_measured_asks_for_the_first_reading(cast: Cast, run: RunRecord) -> None:
    cooling_since(cast, run, 5)
    text = text_of(cast, COOLING)
    assert "no reading yet" in text
    assert "Take the first reading now." in text


def test_a_group_whose_limit_was_missed_says_so_and_why(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 200)
    for minute, temp in ((2, "82"), (30, "56"), (90, "40"), (160, "30"), (190, "26")):
        read(cast.cook, cooling, minute, temp)
    text = text_of(cast, COOLING)
    assert "limit missed" in text
    assert "is-past" in text


def test_an_unlikely_reading_is_asked_about_with_answers_of_one_tap(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    read(cast.cook, cooling, 2, "82")
    read(cast.cook, cooling, 8, "160")
    text = text_of(cast, COOLING)
    assert ">It is 160 °C<" in text
    assert ">It was 160 °F<" in text


def test_an_answer_of_one_tap_is_not_corrected_a_second_time(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    a_thermometer(cast.manager, correction="-1.0")
    read(cast.cook, cooling, 2, "82", thermometer="t1")
    assert read(cast.cook, cooling, 3, "20", thermometer="t1").outcome == "questioned"
    client = signed_in(cast.cook)
    forms = client.get(f"{FLOOR}{cooling.subject}/").content.decode().split("<form")
    form = next(each for each in forms if ">It is 20 °C<" in each)
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
    client.post(f"{FLOOR}record/", fields)
    [row] = Reading.objects.filter(cooling=cooling, temp="19")
    assert (row.confirmed, row.excluded) == (True, False)
    assert Reading.objects.filter(cooling=cooling).count() == 2


def test_the_page_of_a_group_tells_its_log_and_offers_what_can_be_done(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    a_thermometer(cast.cook)
    read(cast.cook, cooling, 5, "80", thermometer="t1")
    act(cast.cook, cooling, "ice_added", 6, {"mass": "12 kg", "into": "bath"})
    text = text_of(cast, f"{FLOOR}{cooling.subject}/")
    for words in ("80 °C", "Red handle", "Ice added: 12 kg, bath", "Close this log", "Set it aside"):
        assert words in text


def test_the_log_tells_what_a_thermometer_showed_only_where_it_was_corrected(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    a_thermometer(cast.manager, correction="-1.0")
    read(cast.cook, cooling, 2, "82 °C")
    assert "the thermometer showed" not in text_of(cast, f"{FLOOR}{cooling.subject}/")
    read(cast.cook, cooling, 3, "81.5 °C", thermometer="t1")
    assert "the thermometer showed 81.5 °C" in text_of(cast, f"{FLOOR}{cooling.subject}/")


def test_a_reheat_names_the_thermometer_that_is_chosen_for_the_page(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 20)
    answer = signed_in(cast.cook).get(f"{FLOOR}{cooling.subject}/").content.decode()
    form = next(each for each in answer.split("<form") if 'value="reheated"' in each)
    assert 'name="content.thermometer"' in form


def test_an_inspector_sees_everything_and_records_nothing(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    read(cast.cook, cooling, 5, "80")
    for href in (FLOOR, COOLING, f"{FLOOR}{cooling.subject}/", page_of(run)):
        assert "data-record" not in text_of(cast, href, role="inspector")


def test_what_another_kitchen_cools_is_not_found(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    client = signed_in(cast.outsider)
    assert client.get(f"/k/elsewhere/floor/{cooling.subject}/").status_code == 404
    assert client.get(page_of(run).replace("small", "elsewhere")).status_code == 404


def test_a_kitchen_in_us_units_reads_and_types_its_own(cast: Cast, run: RunRecord) -> None:
    cooling_since(cast, run, 5)
    Kitchen.objects.filter(pk=cast.kitchen.pk).update(units="us")
    assert 'name="unit.temp" value="°F"' in text_of(cast, COOLING)
    assert 'name="unit.mass" value="lb"' in text_of(cast, page_of(run))


# --- recording without scripts ----------------------------------------------------------------------------------------


def form(kind: str, subject: str, key: str = "form-1", **fields: str) -> dict[str, str]:
    return {"kind": kind, "subject": subject, "key": key, **fields}


def test_a_form_without_scripts_records_and_comes_back(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    client = signed_in(cast.cook)
    sent = form("reading", cooling.subject, **{"content.temp": "71.5", "unit.temp": "°C", "content.unit": "C"})
    answer = client.post(f"{FLOOR}record/", sent, headers={"referer": f"http://testserver{COOLING}"})
    assert answer.headers["Location"] == COOLING
    assert Entry.objects.get(kind="reading").content["temp"] == "71.5 °C"
    assert Reading.objects.get().temp == "71.5"
    client.post(f"{FLOOR}record/", sent)
    assert Entry.objects.filter(kind="reading").count() == 1


def test_what_happened_earlier_is_recorded_as_earlier(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    sent = form("stirred", cooling.subject, ago_min="20")
    signed_in(cast.cook).post(f"{FLOOR}record/", sent)
    entry = Entry.objects.get(kind="stirred")
    assert timedelta(minutes=19) < entry.made_at - entry.happened_at < timedelta(minutes=21)


def test_what_is_refused_stays_typed_with_the_reason(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    client = signed_in(cast.cook)
    client.post(
        f"{FLOOR}record/",
        form("reading", cooling.subject, **{"content.temp": "hot", "content.unit": "C"}),
        headers={"referer": f"http://testserver{COOLING}"},
    )
    text = client.get(COOLING).content.decode()
    assert 'value="hot"' in text
    assert "is not a temperature that can be kept" in text
    assert 'value="hot"' not in client.get(COOLING).content.decode()


def test_a_step_is_recorded_with_its_unit_and_undone_with_a_reason(cast: Cast, run: RunRecord) -> None:
    client, subject = signed_in(cast.cook), run.subject
    client.post(f"{FLOOR}record/", form("run_begun", subject, **{"content.step": "begin"}))
    weighed = {"content.step": "charge.1", "content.mass": "11.3", "unit.mass": "kg"}
    client.post(f"{FLOOR}record/", form("charge_weighed", subject, "form-2", **weighed))
    entry = Entry.objects.get(kind="charge_weighed")
    assert entry.content["mass"] == "11.3 kg"
    assert "Undo" in text_of(cast, page_of(run))
    undo = form("withdrawn", subject, "form-3", corrects=entry.key, reason="wrong number")
    client.post(f"{FLOOR}record/", undo)
    assert Entry.objects.get(kind="withdrawn").corrects == entry
    assert "taken back" in text_of(cast, page_of(run))


# --- size and effort --------------------------------------------------------------------------------------------------


def many(cooling: CoolingRecord, count: int) -> None:
    """Copies of a cooling in other groups, with its curve and digest."""
    whole = cooling.subject.rsplit("/", 1)[0]
    CoolingRecord.objects.bulk_create(
        CoolingRecord(
            **{
                field.attname: getattr(cooling, field.attname)
                for field in CoolingRecord._meta.concrete_fields
                if field.attname not in ("id", "group", "subject")
            },
            group=n,
            subject=f"{whole}/{n}.1",
        )
        for n in range(2, count + 1)
    )


def test_thirty_groups_keep_the_cooling_page_small_and_take_no_more_queries(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 130)
    for minute in range(1, 128, 2):
        read(cast.cook, cooling, minute, f"{20 + 60 * 0.985**minute:.1f}")
    cooling.refresh_from_db()
    client = signed_in(cast.cook)

    def looked() -> tuple[int, int]:
        with CaptureQueriesContext(connection) as caught:
            answer = client.get(COOLING)
        return len(caught), len(answer.content)

    looked()
    queries, _ = looked()
    many(cooling, 30)
    queries_then, size = looked()
    assert queries_then == queries
    assert queries <= 25
    assert size < 150_000
    assert client.get(COOLING).content.decode().count('<li class="group') == 30


def test_the_pages_of_a_run_and_the_board_take_a_few_queries(cast: Cast, run: RunRecord) -> None:
    client = signed_in(cast.cook)
    for href, most in ((FLOOR, 30), (page_of(run), 25)):
        client.get(href)
        with CaptureQueriesContext(connection) as caught:
            client.get(href)
        assert len(caught) <= most, href


def test_what_one_person_recorded_is_refused_under_the_name_of_another(cast: Cast, run: RunRecord) -> None:
    client = signed_in(cast.cook)
    sent: dict[str, list[str]] = {"entries": []}
    other = {"Floor-Person": str(cast.manager.user_id)}
    own = {"Floor-Person": str(cast.cook.user_id)}
    door = f"{FLOOR}entries/"
    assert client.post(door, sent, content_type="application/json", headers=other).status_code == 409
    assert client.post(door, sent, content_type="application/json", headers=own).status_code == 200


def test_a_part_that_cools_elsewhere_gets_a_log_of_its_own(cast: Cast, run: RunRecord) -> None:
    cooling = cooling_since(cast, run, 40)
    read(cast.cook, cooling, 5, "80")
    client = signed_in(cast.cook)
    page = client.get(f"{FLOOR}{cooling.subject}/").context["group"]
    form_there = next(each.form for each in page.deeds if each.form.kind == "cooling_opened")
    elsewhere = next(subject for subject, name in form_there.subjects if name == "somewhere else")
    own = {
        "content.parted_from": cooling.subject,
        "content.vessels:count": "1",
        "content.litres": "5",
        "unit.litres": "L",
    }
    client.post(f"{FLOOR}record/", form("cooling_opened", elsewhere, **own))
    assert CoolingRecord.objects.get(subject=elsewhere).sheet["vessels"] == 1
    assert text_of(cast, COOLING).count('<li class="group') == 2
