"""Tonight's oven loads, each by hand."""

from __future__ import annotations

from datetime import date

import pytest

from stockplan.planner.core.oven_fill import OvenRoom, WoundSpools, fill_ovens

MONDAY, TUESDAY = date(2027, 3, 1), date(2027, 3, 2)
LARGE, SMALL = OvenRoom("LARGE", 10, 50), OvenRoom("SMALL", 4, 65)


def wound(
    key: str, spools: int, *, needed: int = 0, due_day: date | None = None, places_each: float = 1, low_c: int = 45
) -> WoundSpools:
    return WoundSpools(
        key, spools, needed=needed, due_day=due_day, places_each=places_each, low_c=low_c, high_c=low_c + 10
    )


def test_everything_goes_in_where_there_is_room() -> None:
    assert fill_ovens([wound("A", 6)], [LARGE]) == {("LARGE", "A"): 6}


def test_spools_of_orders_come_before_the_rest() -> None:
    # Ten places: the four that are ordered of B first, then six of A.
    rows = [wound("A", 9), wound("B", 8, needed=4, due_day=MONDAY)]
    assert fill_ovens(rows, [LARGE]) == {("LARGE", "B"): 4, ("LARGE", "A"): 6}


def test_order_due_first_comes_first() -> None:
    rows = [wound("A", 8, needed=8, due_day=TUESDAY), wound("B", 8, needed=8, due_day=MONDAY)]
    assert fill_ovens(rows, [LARGE]) == {("LARGE", "B"): 8, ("LARGE", "A"): 2}


def test_large_spools_take_more_places() -> None:
    # 10 places / 2.5 a spool.
    assert fill_ovens([wound("A", 9, places_each=2.5)], [LARGE]) == {("LARGE", "A"): 4}


def test_small_spools_share_a_place_without_a_rounding_loss() -> None:
    # 4 places / 0.4 a spool: ten, although 10 x 0.4 is a sum of inexact parts.
    assert fill_ovens([wound("A", 12, places_each=0.4, low_c=60)], [SMALL]) == {("SMALL", "A"): 10}


@pytest.mark.parametrize(("low_c", "oven"), [(45, "LARGE"), (60, "SMALL")])
def test_spools_go_only_where_the_temperature_suits_them(low_c: int, oven: str) -> None:
    assert fill_ovens([wound("A", 3, low_c=low_c)], [LARGE, SMALL]) == {(oven, "A"): 3}


def test_temperature_at_the_edge_of_the_range_suits() -> None:
    assert fill_ovens([wound("A", 1, low_c=50), wound("B", 1, low_c=40)], [LARGE]) == {
        ("LARGE", "A"): 1,
        ("LARGE", "B"): 1,
    }


def test_lot_that_does_not_fit_goes_on_into_the_next_oven() -> None:
    second = OvenRoom("SECOND", 4, 50)
    assert fill_ovens([wound("A", 12)], [second, LARGE]) == {("LARGE", "A"): 10, ("SECOND", "A"): 2}


def test_nothing_goes_in_without_an_oven_that_suits() -> None:
    assert fill_ovens([wound("A", 3, low_c=80)], [LARGE, SMALL]) == {}
