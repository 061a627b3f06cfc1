"""GTIN check digits against values of the standard and of two reference libraries (fixtures/reference/gtin.json)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from inventory.rules.gtin import gtin_fault

[CHECKS] = json.loads((Path(__file__).parents[3] / "fixtures" / "reference" / "gtin.json").read_text(encoding="utf-8"))
VALUES = CHECKS["inputs"]["values"]


@pytest.mark.parametrize("value", VALUES)
def test_gtin_with_its_published_check_digit_has_no_fault(value: str) -> None:
    assert gtin_fault(value) is None


@pytest.mark.parametrize(("value", "digit"), list(zip(VALUES, CHECKS["expected"]["check_digits"], strict=True)))
def test_gtin_fault_names_the_published_check_digit_when_another_is_given(value: str, digit: int) -> None:
    wrong = value[:-1] + str((digit + 1) % 10)
    assert gtin_fault(wrong) == f"GTIN {wrong!r} ends in {wrong[-1]}, but its check digit is {digit}."


@pytest.mark.parametrize("value", ["", "12345", "950110153100A", "９５０１１０１５３１０００", "123456789012345"])
def test_gtin_fault_says_the_lengths_when_the_form_is_wrong(value: str) -> None:
    assert gtin_fault(value) == f"GTIN {value!r} must have 8, 12, 13 or 14 digits."
