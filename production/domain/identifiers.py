"""Check digits of the article, location and shipping numbers printed on labels."""

from __future__ import annotations

from production.domain.errors import BadQuantity

_DATA_LENGTHS = (7, 11, 12, 13, 17)


def gs1_check_digit(digits: str) -> int:
    """Check digit that completes a GTIN-8, -12, -13, -14, GLN or SSCC.

    Equation: weights 3, 1, 3 ... from the right-most data digit; (10 - sum mod 10) mod 10.
    Units: digits [no quantities]; returns [no quantities].
    Valid: 7, 11, 12, 13 or 17 digits without the check digit.
    Errors: BadQuantity when the text is anything else.
    Source: GS1 General Specifications, check digit calculation (published examples in the tests).
    """
    if len(digits) not in _DATA_LENGTHS or not (digits.isascii() and digits.isdigit()):
        raise BadQuantity(
            f"{digits[:20]!r} is not an article, location or shipping number.",
            code="bad-number",
            numbers={"length": len(digits)},
            remedy="Give 7, 11, 12, 13 or 17 digits without the check digit.",
        )
    total = sum(int(each) * (3 if place % 2 == 0 else 1) for place, each in enumerate(reversed(digits)))
    return -total % 10


def gs1_number_is_valid(number: str) -> bool:
    """Whether a complete number ends in the right check digit.

    Equation: the last digit equals the check digit of the others.
    Units: number [no quantities]; returns [no quantities].
    Valid: any text; anything that is not 8, 12, 13, 14 or 18 digits is not valid.
    Errors: none.
    Source: GS1 General Specifications, check digit calculation.
    """
    if not (number.isascii() and number.isdigit()) or len(number) - 1 not in _DATA_LENGTHS:
        return False
    return int(number[-1]) == gs1_check_digit(number[:-1])
