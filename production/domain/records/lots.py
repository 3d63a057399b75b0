"""Lots: their codes, the verdict they carry, and who may let them go on what grounds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from production.domain.errors import BadQuantity, DoesNotFit, NotAllowed

_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_PLACES = 3
_MOST = len(_ALPHABET) ** _PLACES - 1
MET, NOT_SHOWN, BREACHED = "met", "not_shown", "breached"
_WORST_FIRST = (BREACHED, NOT_SHOWN, MET)


def check_character(text: str) -> str:
    """The character that completes a code of letters and digits, so that a mistyped one is noticed.

    Equation: ISO/IEC 7064 MOD 37,36: p = 36; for each character p = ((p + value) mod 36, 36 for 0) x 2 mod 37;
        the check character makes p + value = 1 mod 36.
    Units: text [no quantities]; returns [no quantities].
    Valid: one or more of 0-9 and A-Z.
    Errors: BadQuantity for other characters.
    Source: ISO/IEC 7064 MOD 37,36, from memory; published example in the tests.
    """
    if not text or any(each not in _ALPHABET for each in text):
        raise BadQuantity(
            f"{text[:24]!r} holds other characters than 0-9 and A-Z.",
            code="bad-lot-code",
            remedy="Type the code as it stands on the label.",
        )
    product = 36
    for each in text:
        product = ((product + _ALPHABET.index(each)) % 36 or 36) * 2 % 37
    return _ALPHABET[(37 - product) % 36]


def lot_code(*, made_on: date, number: int) -> str:
    """The code of the number-th lot of a day: day of cooking, number, check character; for instance 270202001X.

    Equation: YYMMDD, the number in three places of 0-9 A-Z, check_character of both.
    Units: made_on [calendar day], number (count); returns [no quantities].
    Valid: numbers from 1 to 46655; one kitchen, one century.
    Errors: DoesNotFit for more lots than a day can have.
    Source: own definition; 0-9 and A-Z because a GS1 lot number (AI 10) takes them everywhere.
    """
    if not 1 <= number <= _MOST:
        raise DoesNotFit(
            f"A day can have {_MOST} lots, not {number}.",
            code="too-many-lots",
            numbers={"number": number, "most": _MOST},
            remedy="Pack more containers into one lot.",
        )
    places, rest = "", number
    for _ in range(_PLACES):
        rest, digit = divmod(rest, len(_ALPHABET))
        places = _ALPHABET[digit] + places
    body = f"{made_on:%y%m%d}{places}"
    return body + check_character(body)


def lot_code_read(typed: str) -> str:
    """A lot code as somebody typed it, without blanks and dashes, in capitals; refused when it is mistyped.

    Equation: the last character equals check_character of the others.
    Units: typed [no quantities]; returns [no quantities].
    Valid: codes made by lot_code.
    Errors: BadQuantity for any other text.
    Source: own definition.
    """
    code = "".join(each for each in typed.upper() if each not in " -")
    if len(code) != len("YYMMDD") + _PLACES + 1 or check_character(code[:-1]) != code[-1]:
        raise BadQuantity(
            f"{typed[:24]!r} is no lot code of this kitchen: a character is wrong or missing.",
            code="bad-lot-code",
            remedy="Type the code as it stands on the label.",
        )
    return code


def worst_verdict(verdicts: Iterable[str]) -> str:
    """The verdict of a lot: the worst of all its cooling logs, earlier attempts among them.

    Equation: breached before not shown before met; without any log not shown.
    Units: verdicts [no quantities]; returns [no quantities].
    Valid: verdicts of closed logs; any other word counts as not shown.
    Errors: none.
    Source: own definition, the careful side of three-valued verdicts.
    """
    found = {each if each in _WORST_FIRST else NOT_SHOWN for each in verdicts} or {NOT_SHOWN}
    return next(each for each in _WORST_FIRST if each in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grounds:
    """What a release rests on."""

    verdict: str
    may_decide: bool  # the person's role decides over lots
    corrected: bool  # a corrective action with its reason stands in the book for this lot or its cooling
    evaluated: bool  # an evaluation of this lot that speaks for release stands in the book
    kept_back: bool = False  # by who decides, or because a deviation about it is open


def refuse_release(grounds: Grounds) -> None:
    """Refuse to let a lot go on weak grounds.

    Equation: met: anybody who records, or where it is kept back who decides; not shown: who decides, after a
        corrective action; breached: who decides, after an evaluation of the lot.
    Units: no quantities; grounds (record).
    Valid: every lot.
    Errors: NotAllowed with the reason.
    Source: own definition; hold, review and documented disposition follow 9 CFR 417.3(a) and (b), read.
    """
    if grounds.verdict == MET and grounds.kept_back and not grounds.may_decide:
        raise NotAllowed(
            "This lot is kept back by the manager, or a deviation about it is open.",
            code="lot-kept-back",
            remedy="Ask the manager to look at it.",
        )
    if grounds.verdict == MET:
        return
    limits = "its cooling broke a limit" if grounds.verdict == BREACHED else "its cooling is not shown to be safe"
    if not grounds.may_decide:
        raise NotAllowed(
            f"This lot stays on hold: {limits}.",
            code="lot-not-yours-to-release",
            numbers={"verdict": grounds.verdict},
            remedy="Ask the manager; discard it when in doubt.",
        )
    if grounds.verdict == BREACHED and not grounds.evaluated:
        raise NotAllowed(
            f"This lot stays on hold: {limits}, and no evaluation says that it is safe all the same.",
            code="lot-not-evaluated",
            numbers={"verdict": grounds.verdict},
            remedy="Discard it. Only a written evaluation by somebody competent, recorded here, may speak for release.",
        )
    if not (grounds.corrected or grounds.evaluated):
        raise NotAllowed(
            f"This lot stays on hold: {limits}, and no corrective action is recorded.",
            code="lot-not-corrected",
            numbers={"verdict": grounds.verdict},
            remedy="Record what was found, what was done and why it is safe; or discard the lot.",
        )


def may_release(grounds: Grounds) -> bool:
    """Whether a lot could be let go on these grounds.

    Equation: refuse_release does not refuse.
    Units: no quantities; grounds (record).
    Valid: every lot.
    Errors: none.
    Source: as refuse_release.
    """
    try:
        refuse_release(grounds)
    except NotAllowed:
        return False
    return True
