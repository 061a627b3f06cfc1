"""The run card by hand, and its cautions."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.services.runs import release_run
from stockplan.planner.selectors.run_card import RunCard, RunNotKnownError, run_card
from tests.inventory.builders import TinyPlant, clock, local


@pytest.fixture
def card(plant: TinyPlant) -> RunCard:
    run = release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={"PLA-BLACK-1000": 40, "PLA-BLACK-250": 36},
        planned_start=local("2027-03-01 12:00"),
        planned_end=local("2027-03-01 18:00"),
        drying_from=local("2027-03-01 08:00"),
        hopper_code="H1",
        changeover_from_code="PETG-NATURAL-1.75",
        changeover_min=Decimal(72),
        planned_purge_kg=Decimal("9.0"),
        clock=clock("2027-03-01 07:00"),
    )
    return run_card(run.code)


def test_run_card_masses_add_up_by_hand(card: RunCard) -> None:
    # 40 x 1 kg + 36 x 250 g = 49 kg good, 2 % of what is wound is scrap: 1 kg; with 9 kg purge 59 kg of melt.
    assert (card.good_kg, card.scrap_kg, card.purge_kg) == (49, pytest.approx(1.0), 9.0)
    assert card.resin_kg + card.concentrate_kg == pytest.approx(59)
    assert card.concentrate_kg == pytest.approx(59 * 0.02)


def test_run_card_doses_concentrate_per_kilogram_of_melt(card: RunCard) -> None:
    assert card.dosing_g_per_kg == pytest.approx(20)


def test_run_card_names_length_and_mass_of_each_size(card: RunCard) -> None:
    # Source: 335.28 m of PLA 1.75 mm a kilogram, geometry recomputed.
    small, large = card.sizes
    assert (small.sku_code, small.target_g, small.tare_g) == ("PLA-BLACK-250", 250, 90)
    assert large.length_m == pytest.approx(335.2836194167644)
    assert small.length_m == pytest.approx(335.2836194167644 / 4)


def test_run_card_gives_the_diameter_with_its_tolerance(card: RunCard) -> None:
    # Common practice, no source: 1.75 mm is held to 0.03 mm.
    assert (card.least_mm, card.most_mm) == pytest.approx((1.72, 1.78))


def test_run_card_says_what_to_dry_from_when_and_what_was_on_the_line(card: RunCard) -> None:
    assert (card.hopper_code, card.drying_from, card.resin_dry_hours) == ("H1", local("2027-03-01 08:00"), 4)
    assert (card.changeover_from_code, card.changeover_min) == ("PETG-NATURAL-1.75", 72)


def test_run_card_tells_resin_to_fill_from_resin_that_dries_already(card: RunCard, plant: TinyPlant) -> None:
    # The card's run was released at 07:00 and dries from 08:00; this one dries since Sunday.
    assert not card.is_resin_in_hopper
    run = release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={"PLA-BLACK-1000": 1},
        planned_start=local("2027-03-02 12:00"),
        planned_end=local("2027-03-02 13:00"),
        drying_from=local("2027-02-28 20:00"),
        hopper_code="H1",
        clock=clock("2027-03-01 07:30"),
    )
    assert run_card(run.code).is_resin_in_hopper


@pytest.mark.parametrize(
    "words",
    ["manual", "data sheets", "local codes", "licensed practice", "Lock out", "Nip points", "200 °C", "extraction"],
)
def test_run_card_carries_the_usual_cautions(card: RunCard, words: str) -> None:
    # Source: 29 CFR 1910.147 and 1910.212, EN 1114-1; the list of check values `safety`, mixed marks.
    assert words in " ".join(map(str, card.cautions))


def test_run_card_of_an_unknown_run_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(RunNotKnownError, match="R999999"):
        run_card("R999999")
