"""Hoppers by hand. PLA here dries 4 h and keeps 24 h."""

from __future__ import annotations

from datetime import timedelta

from stockplan.planner.core.drying import HopperBoard, hopper_board, largest_charge_kg
from stockplan.planner.core.facts import HopperFacts
from stockplan.planner.core.timing import MinuteClock
from tests.planner.small_facts import MONDAY, material

PLA, PETG = material("PLA"), material("PETG")


def _hopper(code: str = "H1", **fields: object) -> HopperFacts:
    figures = {"capacity_kg": 60.0, "is_continuous": False, "clean_min": 20.0, "holds_material": None}
    return HopperFacts(code=code, **(figures | {"dried_since": None} | fields))  # type: ignore[arg-type]


def _board(*hoppers: HopperFacts) -> HopperBoard:
    return hopper_board(hoppers, clock=MinuteClock(MONDAY))


def test_empty_hopper_is_dry_after_the_hours_of_the_resin() -> None:
    charge = _board(_hopper()).best(PLA, resin_kg=30, by_min=0)
    assert charge is not None
    assert (charge.load_min, charge.ready_min) == (0, 240)


def test_hopper_that_holds_another_material_is_cleaned_first() -> None:
    charge = _board(_hopper(holds_material="PETG")).best(PLA, resin_kg=30, by_min=0)
    assert charge is not None
    assert (charge.load_min, charge.ready_min) == (20, 260)


def test_resin_that_dries_since_the_night_is_ready_at_once() -> None:
    since = MONDAY - timedelta(hours=5)
    charge = _board(_hopper(holds_material="PLA", dried_since=since)).best(PLA, resin_kg=30, by_min=0)
    assert charge is not None
    assert (charge.is_loaded, charge.ready_min) == (True, 0)


def test_resin_that_was_kept_too_long_is_dried_again() -> None:
    since = MONDAY - timedelta(hours=29)
    charge = _board(_hopper(holds_material="PLA", dried_since=since)).best(PLA, resin_kg=30, by_min=0)
    assert charge is not None
    assert (charge.is_loaded, charge.ready_min) == (False, 240)


def test_resin_that_would_be_kept_too_long_by_the_start_dries_again_in_time() -> None:
    # Dry since MONDAY - 1 h, so it keeps until 23 h after; the line is free at 23 h 1 min = 1381 min only.
    board = _board(_hopper(holds_material="PLA", dried_since=MONDAY - timedelta(hours=5)))
    charge = board.best(PLA, resin_kg=30, by_min=0)
    assert charge is not None
    assert board.copy().take(charge, PLA, start_min=1380, end_min=1500) == -300
    assert board.take(charge, PLA, start_min=1381, end_min=1500) == 1381 - 240


def test_second_run_takes_what_the_first_left_and_the_third_waits_for_a_new_load() -> None:
    board = _board(_hopper())
    first = board.best(PLA, resin_kg=40, by_min=0)
    board.take(first, PLA, start_min=240, end_min=300)
    second, third = board.best(PLA, resin_kg=20, by_min=0), board.best(PLA, resin_kg=21, by_min=0)
    assert second is not None
    assert third is not None
    assert (second.is_loaded, second.ready_min) == (True, 300)
    assert (third.is_loaded, third.ready_min) == (False, 540)


def test_drying_begins_as_late_as_the_start_of_the_run_allows() -> None:
    board = _board(_hopper())
    assert board.take(board.best(PLA, resin_kg=40, by_min=0), PLA, start_min=900, end_min=960) == 660


def test_run_too_large_for_one_hopper_goes_to_the_one_that_holds_it() -> None:
    board = _board(_hopper("H1", capacity_kg=30.0), _hopper("H2", capacity_kg=60.0, holds_material="PETG"))
    charge = board.best(PLA, resin_kg=40, by_min=0)
    assert charge is not None
    assert charge.hopper == "H2"


def test_hopper_that_holds_the_material_and_is_free_in_time_is_taken_before_another_is_loaded() -> None:
    since = MONDAY - timedelta(hours=5)
    board = _board(_hopper("H1", holds_material="PETG"), _hopper("H2", holds_material="PLA", dried_since=since))
    board.take(board.best(PLA, resin_kg=40, by_min=0), PLA, start_min=0, end_min=300)
    # H2 is free at 300, H1 could be dry at 260: a line that is free at 300 has no use of the 40 min.
    in_time, earlier = board.best(PLA, resin_kg=20, by_min=300), board.best(PLA, resin_kg=20, by_min=299)
    assert in_time is not None
    assert earlier is not None
    assert (in_time.hopper, in_time.is_loaded, in_time.ready_min) == ("H2", True, 300)
    assert (earlier.hopper, earlier.is_loaded, earlier.ready_min) == ("H1", False, 260)


def test_hopper_that_need_not_be_emptied_is_loaded_before_one_that_holds_another_material() -> None:
    board = _board(_hopper("H1", holds_material="PETG"), _hopper("H2"), _hopper("H3", holds_material="PLA"))
    # All three are dry by 300: H2 and H3 at 240, H1, cleaned first, at 260.
    first = board.best(PLA, resin_kg=40, by_min=300)
    assert first is not None
    board.take(first, PLA, start_min=300, end_min=900)
    second = board.best(PLA, resin_kg=40, by_min=300)
    assert second is not None
    assert (first.hopper, second.hopper) == ("H2", "H3")


def test_continuous_hopper_feeds_as_fast_as_it_dries() -> None:
    charge = _board(_hopper(is_continuous=True)).best(PLA, resin_kg=500, by_min=0)
    assert charge is not None
    # 60 kg that take 4 h to dry: 15 kg/h.
    assert charge.dryer_kg_h == 15.0


def test_no_hopper_is_looked_for_where_none_is_entered_or_nothing_dries() -> None:
    assert _board().best(PLA, resin_kg=30, by_min=0) is None
    assert _board(_hopper()).best(material(resin_dry_h=0.0), resin_kg=30, by_min=0) is None


def test_largest_charge_is_unlimited_with_a_continuous_hopper() -> None:
    assert largest_charge_kg([_hopper(), _hopper("H2", capacity_kg=90.0)]) == 90.0
    assert largest_charge_kg([_hopper(), _hopper("H2", is_continuous=True)]) is None
