"""Codes of lots, and on what grounds one may go."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.domain.errors import BadQuantity, DoesNotFit, NotAllowed
from production.domain.records.lots import (
    Grounds,
    lot_code,
    lot_code_read,
    refuse_release,
    worst_verdict,
)

DAY = date(2027, 2, 2)


def test_a_code_tells_the_day_and_fits_a_gs1_lot_number() -> None:
    code = lot_code(made_on=DAY, number=1)
    assert code.startswith("270202001")
    assert len(code) <= 20
    assert code.isalnum()
    assert code == code.upper()


def test_no_two_lots_of_a_day_share_a_code() -> None:
    codes = {lot_code(made_on=DAY, number=number) for number in range(1, 3000)}
    assert len(codes) == 2999


def test_a_day_has_room_for_many_lots_but_not_for_endless_ones() -> None:
    assert lot_code(made_on=DAY, number=46655)
    with pytest.raises(DoesNotFit, match="46655"):
        lot_code(made_on=DAY, number=46656)


@given(
    number=st.integers(1, 46655),
    place=st.integers(0, 9),
    wrong=st.sampled_from("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"),
)
def test_one_mistyped_character_is_always_noticed(number: int, place: int, wrong: str) -> None:
    code = lot_code(made_on=DAY, number=number)
    typed = code[:place] + wrong + code[place + 1 :]
    if typed == code:
        assert lot_code_read(typed) == code
    else:
        with pytest.raises(BadQuantity, match="no lot code"):
            lot_code_read(typed)


def test_a_code_may_be_typed_with_blanks_dashes_and_small_letters() -> None:
    code = lot_code(made_on=DAY, number=1234)
    assert lot_code_read(f" {code[:6].lower()}-{code[6:].lower()} ") == code


@pytest.mark.parametrize("typed", ["", "270202", "270202001", "27.02.02.001", "270202001ÄX"])
def test_what_is_no_code_is_refused(typed: str) -> None:
    with pytest.raises(BadQuantity):
        lot_code_read(typed)


@pytest.mark.parametrize(
    ("verdicts", "worst"),
    [
        (["met"], "met"),
        (["met", "not_shown"], "not_shown"),
        (["not_shown", "breached", "met"], "breached"),
        ([], "not_shown"),
        (["met", ""], "not_shown"),  # a log that is not closed shows nothing
        (["met", "running"], "not_shown"),
    ],
)
def test_a_lot_is_as_good_as_the_worst_of_its_logs(verdicts: list[str], worst: str) -> None:
    assert worst_verdict(verdicts) == worst


def grounds(verdict: str, *, decides: bool = False, corrected: bool = False, evaluated: bool = False) -> Grounds:
    return Grounds(verdict=verdict, may_decide=decides, corrected=corrected, evaluated=evaluated)


def test_what_met_its_limits_may_go_on_a_cooks_word() -> None:
    refuse_release(grounds("met"))


@pytest.mark.parametrize("verdict", ["breached", "not_shown"])
def test_what_did_not_is_no_cooks_to_release_whatever_is_recorded(verdict: str) -> None:
    with pytest.raises(NotAllowed) as refused:
        refuse_release(grounds(verdict, corrected=True, evaluated=True))
    assert refused.value.code == "lot-not-yours-to-release"


def test_what_is_not_shown_goes_only_after_a_corrective_action() -> None:
    with pytest.raises(NotAllowed) as refused:
        refuse_release(grounds("not_shown", decides=True))
    assert refused.value.code == "lot-not-corrected"
    refuse_release(grounds("not_shown", decides=True, corrected=True))


def test_what_broke_a_limit_goes_only_after_an_evaluation() -> None:
    with pytest.raises(NotAllowed) as refused:
        refuse_release(grounds("breached", decides=True, corrected=True))
    assert refused.value.code == "lot-not-evaluated"
    refuse_release(grounds("breached", decides=True, evaluated=True))
