"""GTIN check (GS1 General Specifications, section 7.9.1: standard check digit)."""

from __future__ import annotations

from stdnum import ean

from inventory.rules.texts import Text, text

GTIN_LENGTHS = frozenset({8, 12, 13, 14})


def gtin_fault(value: str) -> Text | None:
    """Say what is wrong with a GTIN-8, -12, -13 or -14, or None where nothing is.

    Examples
    --------
    >>> gtin_fault("9501101531000")
    >>> gtin_fault("9501101531001")
    "GTIN '9501101531001' ends in 1, but its check digit is 0."
    """
    if not (value.isascii() and value.isdigit()) or len(value) not in GTIN_LENGTHS:
        return text("GTIN {value!r} must have 8, 12, 13 or 14 digits.", value=value)
    expected = ean.calc_check_digit(value[:-1])
    if value[-1] != expected:
        return text(
            "GTIN {value!r} ends in {last}, but its check digit is {expected}.",
            value=value,
            last=value[-1],
            expected=expected,
        )
    return None
