"""The pure rules under the books, each against a source of its own."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.clock import Clock
from inventory.rules.conversion import WoundSpools, is_mass_balanced, melt_bill, spools_kg
from inventory.rules.fifo import LotStock, take_fifo
from inventory.rules.flows import WAYS, way_fault
from inventory.rules.history import LaterChange, lowest_since

REFERENCE = json.loads(Path("fixtures/reference/let_down.json").read_text(encoding="utf-8"))
NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)


@pytest.mark.parametrize("case", REFERENCE["cases"])
def test_melt_bill_splits_by_the_let_down(case: dict[str, str]) -> None:
    """Source and mark stand in the file: a definition, with shares from trade practice."""
    bill = melt_bill(
        good_kg=Decimal(case["total_kg"]),
        scrap_kg=Decimal(0),
        purge_kg=Decimal(0),
        let_down_share=Decimal(case["let_down_share"]),
    )
    assert (bill.concentrate_kg, bill.resin_kg) == (Decimal(case["concentrate_kg"]), Decimal(case["resin_kg"]))


def test_melt_bill_counts_scrap_and_purge_like_good_spools() -> None:
    # By hand (design section 5): (95 + 3 + 2) x 0.02 = 2 kg of concentrate, 98 kg of resin.
    bill = melt_bill(good_kg=Decimal(95), scrap_kg=Decimal(3), purge_kg=Decimal(2), let_down_share=Decimal("0.02"))
    assert (bill.resin_kg, bill.concentrate_kg) == (98, 2)


@given(
    st.decimals(0, 10_000, places=3),
    st.decimals(0, 100, places=3),
    st.decimals(0, 100, places=3),
    st.decimals(0, "0.2", places=4),
)
def test_melt_bill_loses_nothing_in_rounding(good: Decimal, scrap: Decimal, purge: Decimal, share: Decimal) -> None:
    bill = melt_bill(good_kg=good, scrap_kg=scrap, purge_kg=purge, let_down_share=share)
    assert bill.resin_kg + bill.concentrate_kg == good + scrap + purge


@pytest.mark.parametrize("share", ["-0.01", "1"])
def test_melt_bill_refuses_a_share_outside_its_range(share: str) -> None:
    with pytest.raises(ValueError, match="let_down_share must be in"):
        melt_bill(good_kg=Decimal(1), scrap_kg=Decimal(0), purge_kg=Decimal(0), let_down_share=Decimal(share))


def test_melt_bill_refuses_a_negative_mass() -> None:
    with pytest.raises(ValueError, match="masses must be >= 0"):
        melt_bill(good_kg=Decimal(1), scrap_kg=Decimal(-1), purge_kg=Decimal(0), let_down_share=Decimal(0))


def test_spools_weigh_net_and_give_away() -> None:
    # By hand: 10 x (1000 + 5) g + 4 x (250 + 2) g = 10 050 + 1 008 g.
    assert spools_kg([WoundSpools(10, 1000, 5), WoundSpools(4, 250, 2)]) == Decimal("11.058")


@pytest.mark.parametrize("wrong", [(-1, 1000, 0), (1, 0, 0), (1, 1000, -1)])
def test_spools_are_refused_when_impossible(wrong: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="needed, received"):
        WoundSpools(*wrong)


@pytest.mark.parametrize(
    ("out_kg", "is_balanced"), [("98", True), ("102", True), ("97.999", False), ("102.001", False)]
)
def test_mass_is_balanced_within_the_share_of_what_went_in(out_kg: str, is_balanced: bool) -> None:
    # By hand: 2 % of 100 kg.
    found = is_mass_balanced(in_kg=Decimal(100), out_kg=Decimal(out_kg), tolerance_share=Decimal("0.02"))
    assert found is is_balanced


def test_clock_refuses_a_naive_instant() -> None:
    with pytest.raises(ValueError, match="occurred_at 2027-03-01T12:00:00 has no time zone"):
        Clock(occurred_at=NOON.replace(tzinfo=None), known_at=NOON)


def test_clock_refuses_knowledge_before_the_fact() -> None:
    with pytest.raises(ValueError, match="cannot know of a fact before it happens"):
        Clock(occurred_at=NOON, known_at=NOON - timedelta(seconds=1))


def test_lowest_since_walks_back_through_later_changes() -> None:
    # By hand, forwards: 3 at noon, +10 at 13 (13), -12 at 14 (1), +1 at 15 (2 now). The lowest was 1.
    later = [
        LaterChange(NOON + timedelta(hours=hours), number, Decimal(delta))
        for number, (hours, delta) in enumerate([(1, 10), (2, -12), (3, 1)])
    ]
    assert lowest_since(Decimal(2), later) == 1


def test_lowest_since_takes_the_lines_of_one_movement_together() -> None:
    # By hand: one movement takes 5 out and puts 5 in: it was never 5 lower.
    later = [LaterChange(NOON, 7, Decimal(-5)), LaterChange(NOON, 7, Decimal(5))]
    assert lowest_since(Decimal(4), later) == 4


@given(st.integers(0, 50), st.lists(st.integers(-20, 20), max_size=12))
def test_lowest_since_is_the_least_running_balance(start: int, deltas: list[int]) -> None:
    """Independent check: the balances walked forwards instead of backwards."""
    running = [start]
    for delta in deltas:
        running.append(running[-1] + delta)
    later = [
        LaterChange(NOON + timedelta(minutes=number), number, Decimal(delta)) for number, delta in enumerate(deltas)
    ]
    assert lowest_since(Decimal(running[-1]), later) == min(running)


@given(st.lists(st.integers(1, 9), max_size=6), st.integers(1, 60))
def test_fifo_takes_all_or_says_what_is_missing(lots: list[int], wanted: int) -> None:
    take = take_fifo([LotStock(1, number, Decimal(lot)) for number, lot in enumerate(lots)], Decimal(wanted))
    taken = sum(part.quantity for part in take.parts)
    assert taken + take.shortfall == wanted
    assert taken == min(wanted, sum(lots))


def test_fifo_empties_the_older_lot_first() -> None:
    take = take_fifo([LotStock(1, 7, Decimal(3)), LotStock(1, 8, Decimal(5))], Decimal(4))
    assert [(part.lot_id, part.quantity) for part in take.parts] == [(7, 3), (8, 1)]


def test_no_kind_but_a_hold_release_leaves_the_hold_for_the_shelf() -> None:
    assert {kind for kind, ways in WAYS.items() if ("hold", "shelf") in ways} == {"hold_release"}


def test_nothing_comes_back_from_scrap_but_by_reversal() -> None:
    assert [kind for kind, ways in WAYS.items() if any(source == "scrap" for source, _ in ways)] == []
    assert way_fault("reversal", "scrap", "shelf") is None
