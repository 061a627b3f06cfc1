"""Rules of cycle counts. Sums by hand; when a count is believed and the classes' shares: common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from scipy.stats import beta, binom

from inventory.rules.counting import (
    CountResult,
    SettledCount,
    accuracy_of,
    chance_wrong,
    count_risk,
    error_share,
    value_classes,
)

ONE_PERCENT = Decimal("0.01")


@pytest.mark.parametrize(
    ("counted", "book", "is_within"),
    [(99, 100, True), (101, 100, True), (98, 100, False), (102, 100, False), (0, 0, True), (1, 0, False)],
)
def test_count_is_within_one_percent_of_the_books(counted: int, book: int, *, is_within: bool) -> None:
    assert CountResult(counted, book).is_within(ONE_PERCENT) is is_within


def test_first_count_outside_the_tolerance_does_not_settle() -> None:
    assert not CountResult(90, 100).settles_after(None, tolerance_share=ONE_PERCENT)


def test_second_count_with_the_same_difference_settles_though_stock_moved() -> None:
    # Ten are missing both times; forty left the shelf in between.
    assert CountResult(50, 60).settles_after(CountResult(90, 100), tolerance_share=ONE_PERCENT)


def test_second_count_with_another_difference_does_not_settle() -> None:
    assert not CountResult(91, 100).settles_after(CountResult(90, 100), tolerance_share=ONE_PERCENT)


def test_second_count_that_agrees_with_the_books_settles() -> None:
    assert CountResult(100, 100).settles_after(CountResult(90, 100), tolerance_share=Decimal(0))


def test_accuracy_is_told_by_group_with_its_denominator() -> None:
    counts = [
        SettledCount("B", CountResult(10, 10), Decimal(0)),
        SettledCount("A", CountResult(99, 100), ONE_PERCENT),
        SettledCount("A", CountResult(55, 50), ONE_PERCENT),
        SettledCount("A", CountResult(20, 20), ONE_PERCENT),
    ]
    a, b = accuracy_of(counts)
    assert (a.group, a.counted_lines, a.exact_lines, a.within_lines) == ("A", 3, 1, 2)
    assert (a.book_spools, a.net_spools, a.absolute_spools, a.accuracy_share) == (170, 4, 6, 2 / 3)
    assert (b.group, b.accuracy_share) == ("B", 1.0)


def test_nothing_counted_has_no_accuracy() -> None:
    assert accuracy_of([]) == ()


def test_classes_are_cut_where_the_share_is_reached() -> None:
    # 60, 20, 10, 6, 4 of 100: A until 80 are reached, B until 95 are.
    values = {5: Decimal(4), 1: Decimal(60), 3: Decimal(10), 2: Decimal(20), 4: Decimal(6)}
    assert {sku: str(each) for sku, each in value_classes(values).items()} == {1: "A", 2: "A", 3: "B", 4: "B", 5: "C"}


def test_sku_without_demand_is_of_the_last_class() -> None:
    assert [str(each) for each in value_classes({1: Decimal(0), 2: Decimal(0)}).values()] == ["C", "C"]
    assert str(value_classes({1: Decimal(9), 2: Decimal(0)})[2]) == "C"


def test_error_share_is_the_mean_of_the_beta_posterior() -> None:
    # Prior beta(1, 99); 4 wrong of 300 movements give beta(5, 395). Reference: scipy.
    assert error_share(wrong_counts=4, movements=300) == pytest.approx(beta(1 + 4, 99 + 296).mean(), abs=1e-12)


def test_chance_of_a_wrong_record_is_that_of_at_least_one_error() -> None:
    # Reference: scipy's binomial.
    assert chance_wrong(movements=25, error_share=0.02) == pytest.approx(binom(25, 0.02).sf(0), abs=1e-12)


def test_risk_counts_order_lines_that_rely_on_a_wrong_record() -> None:
    assert count_risk(chance_wrong=0.25, order_lines_per_day=2.0) == 0.5
