"""Colour arithmetic against published pairs (fixtures/reference/colour_ciede2000.json names each source)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from inventory.rules.colour import Lab, difference_2000, lab_of_hex, lightness_of_hex

REFERENCE = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "reference" / "colour_ciede2000.json").read_text(encoding="utf-8")
)
PAIRS_2000, _CIE76, SRGB_TO_LAB, _LIGHTNESS = REFERENCE
PAIRS = list(zip(PAIRS_2000["inputs"]["pairs"], PAIRS_2000["expected"]["dE00"], strict=True))


@pytest.mark.parametrize(("pair", "expected"), PAIRS)
def test_difference_2000_agrees_with_the_published_pairs(pair: list[float], expected: float) -> None:
    # Sharma, Wu, Dalal (2005), Table 1, four decimals; pairs 9 to 16 sit on the hue discontinuity.
    assert difference_2000(Lab(*pair[:3]), Lab(*pair[3:])) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("pair", "expected"), PAIRS)
def test_difference_2000_is_the_same_in_the_other_order(pair: list[float], expected: float) -> None:
    assert difference_2000(Lab(*pair[3:]), Lab(*pair[:3])) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("name", list(SRGB_TO_LAB["inputs"]))
def test_lab_of_hex_agrees_with_the_well_known_triples(name: str) -> None:
    # Well-known triples of the sRGB primaries, from memory; the values in the file were recomputed.
    red, green, blue = SRGB_TO_LAB["inputs"][name]
    lab = lab_of_hex(f"#{red:02X}{green:02X}{blue:02X}")
    assert (lab.l_star, lab.a_star, lab.b_star) == pytest.approx(SRGB_TO_LAB["expected"][name], abs=0.01)


def test_lightness_of_a_dark_grey_follows_the_straight_part_of_the_curve() -> None:
    # ISO/CIE 11664-4: below (6/29)^3 of white L* = (29/3)^3 Y/Yn; for a grey Y/Yn is the linear value (IEC 61966-2-1).
    assert lightness_of_hex("#040404") == pytest.approx((29 / 3) ** 3 * (4 / 255) / 12.92, abs=1e-4)


@pytest.mark.parametrize("text", ["FFFFFF", "#FFF", "#GGGGGG", "", "#12345678"])
def test_lab_of_hex_refuses_what_is_no_screen_colour(text: str) -> None:
    with pytest.raises(ValueError, match="#RRGGBB"):
        lab_of_hex(text)
