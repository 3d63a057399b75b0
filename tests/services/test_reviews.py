"""Verifying and signing logs: by whom, under what, and what takes a signature away."""

from __future__ import annotations

import threading
from collections.abc import Callable
from hashlib import sha256
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.http import Http404

from production.documents.cooling_record import cooling_record_view
from production.documents.render import document_html
from production.domain.errors import Conflict, NotAllowed, PotwrightError
from production.models import CoolingRecord, Deviation, Entry, Membership, PlanningWeek, Review, RunRecord
from production.models import SignatureTries as Tries
from production.selectors.cooling_record import completed_log
from production.selectors.record_check import book_check
from production.selectors.review_entries import newest_number
from production.services.kitchens import membership_set
from production.services.reviews import review_answer, review_ask, review_refuse, review_sign
from production.services.signatures import signature_confirm
from tests.conftest import Cast
from tests.services.cooling_kit import a_run, act, opened, sent, take
from tests.services.review_kit import MISSED, a_log, after, closed, key
from tests.services.test_deviations import close, do

PASSWORD = "steam and ladles"


@pytest.fixture
def run(cast: Cast, planning_week: PlanningWeek) -> RunRecord:
    return a_run(cast.manager, planning_week)


@pytest.fixture
def log(cast: Cast, run: RunRecord) -> CoolingRecord:
    return a_log(cast.cook, run)


def seen(log: CoolingRecord) -> int:
    return newest_number(kitchen_id=log.kitchen_id, subject=log.subject)


def sign(by: Membership, log: CoolingRecord, minute: float = 400, **changes: Any) -> Entry:
    told: dict[str, Any] = {
        "seen": seen(log),
        "meaning": "review",
        "findings": "",
        "password": PASSWORD,
        "key": key(),
    }
    return review_sign(by=by, subject=log.subject, now=after(log, minute), **(told | changes))


def state(log: CoolingRecord) -> str:
    return Review.objects.get(cooling=log).state


def test_a_signature_keeps_name_time_meaning_and_what_it_stands_under(cast: Cast, log: CoolingRecord) -> None:
    cast.inspector.user.first_name, cast.inspector.user.last_name = "Ines", "Okafor"
    entries = list(Entry.objects.filter(subject=log.subject).order_by("number"))
    entry = sign(cast.inspector, log, meaning="approval", findings=" Complete,\nlegible ")
    told = entry.content
    assert (told["printed_name"], told["meaning"], told["findings"]) == ("Ines Okafor", "approval", "Complete, legible")
    assert told["says"].startswith("I have reviewed")
    assert (entry.made_at, entry.by, entry.role) == (after(log, 400), cast.inspector.user, "inspector")
    assert told["covers"]["count"] == len(entries)
    leaves = sha256(b"".join(bytes.fromhex(each.leaf_sha256) for each in entries)).hexdigest()
    assert told["leaves_sha256"] == leaves
    assert (state(log), told["verdict"]) == ("signed", "met")


def test_an_addition_takes_the_signature_away_and_it_can_be_signed_again(cast: Cast, log: CoolingRecord) -> None:
    sign(cast.inspector, log)
    late = sent("reading", log.subject, after(log, 200), {"temp": "12", "unit": "C"})
    take(cast.cook, late, now=after(log, 410))
    assert state(log) == "lost"
    again = sign(cast.inspector, log, 420)
    assert state(log) == "signed"
    assert Review.objects.get().signature == again
    assert Entry.objects.filter(kind="verified").count() == 2


def test_setting_a_reading_aside_or_telling_an_act_late_takes_it_away_too(cast: Cast, log: CoolingRecord) -> None:
    reading = Entry.objects.filter(kind="reading").order_by("number")[2]
    for what in (
        sent("reading_excluded", log.subject, after(log, 410), {}, corrects=reading.key, reason="wrong vessel"),
        sent("stirred", log.subject, after(log, 50), {}),
        sent("corrective_action", log.subject, after(log, 430), {"what": "Stirred more"}),
    ):
        sign(cast.inspector, log)
        (answer,) = take(cast.cook, what, now=after(log, 440))
        assert answer.number is not None, answer
        assert state(log) == "lost"


def test_taking_an_act_back_takes_it_away_as_well(cast: Cast, run: RunRecord) -> None:
    cooling = opened(cast.cook, run)
    act(cast.cook, cooling, "stirred", 1, {})
    log = closed(cast.cook, cooling)
    sign(cast.inspector, log)
    stirred = Entry.objects.get(kind="stirred")
    undo = sent("withdrawn", log.subject, after(log, 410), {}, corrects=stirred.key, reason="Another pot")
    take(cast.cook, undo, now=after(log, 410))
    assert state(log) == "lost"


def test_questions_and_answers_leave_a_signature_alone(cast: Cast, log: CoolingRecord) -> None:
    sign(cast.inspector, log)
    review_ask(by=cast.inspector, subject=log.subject, question="Who held it?", key=key(), now=after(log, 410))
    assert Review.objects.get().asked
    review_answer(by=cast.cook, subject=log.subject, answer="Kim did.", key=key(), now=after(log, 411))
    assert (state(log), Review.objects.get().asked) == ("signed", False)
    with pytest.raises(Conflict) as caught:
        review_answer(by=cast.manager, subject=log.subject, answer="Me too", key=key(), now=after(log, 412))
    assert caught.value.code == "nothing-asked"


def test_who_recorded_something_in_the_log_does_not_review_it(cast: Cast, run: RunRecord) -> None:
    log = a_log(cast.cook, run)
    turned = membership_set(kitchen=cast.kitchen, user=cast.cook.user, role="inspector", by=None)
    with pytest.raises(NotAllowed) as caught:
        sign(turned, log)
    assert caught.value.code == "reviewer-recorded"
    assert not Entry.objects.filter(kind="verified").exists()


def test_only_inspectors_verify_ask_and_refuse(cast: Cast, log: CoolingRecord) -> None:
    for by in (cast.manager, cast.cook, cast.administrator):
        with pytest.raises(NotAllowed):
            sign(by, log)
        with pytest.raises(NotAllowed):
            review_ask(by=by, subject=log.subject, question="Why?", key=key(), now=after(log, 400))
        with pytest.raises(NotAllowed):
            review_refuse(by=by, subject=log.subject, reason="No", key=key(), now=after(log, 400))
    with pytest.raises(NotAllowed):
        review_answer(by=cast.inspector, subject=log.subject, answer="So", key=key(), now=after(log, 400))
    stranger = membership_set(kitchen=cast.outsider.kitchen, user=cast.stranger, role="inspector", by=None)
    with pytest.raises(Http404):
        sign(stranger, log)


def test_a_log_that_has_changed_since_it_was_shown_is_not_signed(cast: Cast, log: CoolingRecord) -> None:
    shown = seen(log)
    act(cast.cook, log, "corrective_action", 390, {"what": "Told late"})
    with pytest.raises(Conflict) as caught:
        sign(cast.inspector, log, seen=shown)
    assert caught.value.code == "log-changed-meanwhile"


def test_the_second_signature_is_refused_and_the_same_request_is_known(cast: Cast, log: CoolingRecord) -> None:
    shown = seen(log)
    first = sign(cast.inspector, log, key="once", seen=shown)
    assert sign(cast.inspector, log, key="once", seen=shown) == first
    with pytest.raises(Conflict) as caught:
        sign(cast.inspector, log)
    assert caught.value.code == "signed-already"
    assert Entry.objects.filter(kind="verified").count() == 1


def test_a_breached_log_is_approved_only_when_its_deviation_is_closed(cast: Cast, run: RunRecord) -> None:
    log = a_log(cast.cook, run, MISSED)
    with pytest.raises(Conflict) as caught:
        sign(cast.inspector, log, meaning="approval")
    assert caught.value.code == "approval-before-closing"
    do(cast, 1, after(log, 160))
    close(cast, 1, after(log, 170))
    entry = sign(cast.inspector, log, meaning="approval")
    assert entry.content["deviations"] == [{"number": 1, "state": "closed"}]


def test_a_refusal_says_why_and_opens_a_deviation(cast: Cast, log: CoolingRecord) -> None:
    sign(cast.inspector, log)
    review_refuse(
        by=cast.inspector, subject=log.subject, reason="The probe is not on the list", key=key(), now=after(log, 410)
    )
    found = Deviation.objects.get()
    assert (state(log), found.kind, found.cooling) == ("refused", "review", log)
    assert "The probe is not on the list" in found.sentence
    with pytest.raises(Conflict) as caught:
        review_refuse(by=cast.inspector, subject=log.subject, reason="Again", key=key(), now=after(log, 411))
    assert caught.value.code == "refused-already"


def test_words_are_needed(cast: Cast, log: CoolingRecord) -> None:
    with pytest.raises(PotwrightError) as caught:
        review_ask(by=cast.inspector, subject=log.subject, question=" ?", key=key(), now=after(log, 400))
    assert caught.value.code == "review-without-words"


def test_the_printed_log_shows_name_time_and_meaning_of_the_signature(cast: Cast, log: CoolingRecord) -> None:
    cast.inspector.user.first_name, cast.inspector.user.last_name = "Ines", "Okafor"
    sign(cast.inspector, log, findings="Complete")
    signed = completed_log(by=cast.cook, subject=log.subject)
    assert signed.signed_by == "Ines Okafor"
    told = cooling_record_view(signed)["said"]
    day = f"{after(log, 400).astimezone(ZoneInfo(cast.kitchen.time_zone)):%A}"
    assert isinstance(told, list)
    assert told[0]["at"].startswith(day)
    assert told[0]["words"] == "Signed by Ines Okafor: I have reviewed this record. Findings: Complete"
    act(cast.cook, log, "corrective_action", 410, {"what": "Told late"})
    lost = completed_log(by=cast.cook, subject=log.subject)
    assert (lost.signed_by, len(lost.said)) == ("", 1)
    assert lost.said[0].words.endswith("This signature does not stand any more.")
    assert "No signature stands when this is issued." in document_html([lost])
    assert "The signature of Ines Okafor stands." in document_html([signed])


# --- held against the book --------------------------------------------------------------------------------------------


def said(cast: Cast) -> list[str]:
    found = book_check(kitchen=cast.kitchen).findings
    return [each.sentence for each in found if "never begun" not in each.sentence]  # the kit's run has no beginning


def test_what_is_shown_of_reviews_and_deviations_is_what_the_book_says(cast: Cast, run: RunRecord) -> None:
    log = a_log(cast.cook, run, MISSED)
    assert said(cast) == []
    do(cast, 1, after(log, 160))
    close(cast, 1, after(log, 170))
    review_ask(by=cast.inspector, subject=log.subject, question="Why?", key=key(), now=after(log, 400))
    assert said(cast) == []
    sign(cast.inspector, log)
    assert said(cast) == []
    act(cast.cook, log, "corrective_action", 410, {"what": "Told late"})
    assert (said(cast), state(log)) == ([], "lost")
    sign(cast.inspector, log, 420)
    review_refuse(by=cast.inspector, subject=log.subject, reason="On second thought", key=key(), now=after(log, 430))
    assert (said(cast), state(log)) == ([], "refused")


@pytest.mark.parametrize(
    ("touch", "words"),
    [
        (lambda: Review.objects.update(state="signed"), "is shown as signed"),
        (lambda: Review.objects.update(asked=True), "is shown as lost"),
        (lambda: Review.objects.all().delete(), "What was said about the log"),
        (lambda: Deviation.objects.update(sentence="Nothing happened."), "Deviation 1 is shown as cooling"),
        (lambda: Deviation.objects.all().delete(), "The deviation 1 is missing"),
    ],
)
def test_a_row_that_was_touched_is_named(cast: Cast, run: RunRecord, touch: Callable[[], object], words: str) -> None:
    log = a_log(cast.cook, run, MISSED)
    sign(cast.inspector, log)
    act(cast.cook, log, "corrective_action", 410, {"what": "Told late"})
    touch()
    (told,) = said(cast)
    assert words in told


# --- passwords --------------------------------------------------------------------------------------------------------


def wrong(by: Membership, log: CoolingRecord, minute: float) -> NotAllowed:
    with pytest.raises(NotAllowed) as caught:
        sign(by, log, minute, password="ladles and steam")
    return caught.value


def test_a_wrong_password_signs_nothing_and_five_of_them_pause_signing(cast: Cast, log: CoolingRecord) -> None:
    tries = [wrong(cast.inspector, log, 400 + n) for n in range(6)]
    assert [each.code for each in tries] == ["signature-password-wrong"] * 5 + ["signature-pauses"]
    assert [each.numbers.get("tries_left") for each in tries[:5]] == [4, 3, 2, 1, 0]
    with pytest.raises(NotAllowed) as caught:
        sign(cast.inspector, log, 406)  # the right one does not help any more
    assert caught.value.numbers["minutes_left"] == 13
    assert not Entry.objects.filter(kind="verified").exists()
    assert sign(cast.inspector, log, 419.5).number
    assert Tries.objects.get().failed == 0


def test_tries_count_for_the_person_alone(cast: Cast, log: CoolingRecord) -> None:
    for n in range(6):
        wrong(cast.inspector, log, 400 + n)
    other = membership_set(kitchen=cast.kitchen, user=cast.stranger, role="inspector", by=None)
    assert sign(other, log).by == cast.stranger


def test_after_the_pause_there_are_five_tries_again(cast: Cast, log: CoolingRecord) -> None:
    for n in range(5):
        wrong(cast.inspector, log, 400 + n)
    assert [wrong(cast.inspector, log, 420 + n).numbers.get("tries_left") for n in range(5)] == [4, 3, 2, 1, 0]
    with pytest.raises(NotAllowed) as caught:
        signature_confirm(by=cast.inspector, password=PASSWORD, now=after(log, 425))
    assert caught.value.code == "signature-pauses"


# --- several at once --------------------------------------------------------------------------------------------------


def together(*works: Callable[[], object]) -> list[str]:
    """Do several things at the same moment, each on a connection of its own; the codes of what was refused."""
    start, codes = threading.Barrier(len(works)), [""] * len(works)

    def do_it(place: int, work: Callable[[], object]) -> None:
        try:
            start.wait()
            work()
        except PotwrightError as error:
            codes[place] = error.code
        finally:
            connection.close()

    threads = [threading.Thread(target=do_it, args=each) for each in enumerate(works)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return sorted(codes)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_inspectors_sign_at_once_and_two_managers_close_at_once(cast: Cast, run: RunRecord) -> None:
    log = a_log(cast.cook, run, MISSED)
    other = membership_set(kitchen=cast.kitchen, user=cast.stranger, role="inspector", by=None)
    do(cast, 1, after(log, 160))
    assert together(
        lambda: close(cast, 1, after(log, 170)), lambda: close(cast, 1, after(log, 170), cause="The lid was on")
    ) == ["", "deviation-closed-already"]
    shown = seen(log)
    codes = together(lambda: sign(cast.inspector, log, seen=shown), lambda: sign(other, log, seen=shown))
    assert codes == ["", "signed-already"]
    assert Entry.objects.filter(kind__in=["verified", "deviation_closed"]).count() == 2


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_many_windows_have_no_more_tries_together_than_one(cast: Cast, log: CoolingRecord) -> None:
    def guess() -> None:
        signature_confirm(by=cast.inspector, password="ladles and steam", now=after(log, 400))

    assert together(*[guess] * 8) == ["signature-password-wrong"] * 5 + ["signature-pauses"] * 3
