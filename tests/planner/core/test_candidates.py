"""Lots against hand calculation and against trying every lot."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from stockplan.planner.core.candidates import best_rate, economic_length, falling, spool_ladder


def test_falling_averages_a_backlog_whose_last_spool_is_worth_most() -> None:
    # By hand: 0.1, 0.1 and 1.0 average to 0.4; 0.5 after them joins (0.425), 0.2 does not.
    assert falling(np.array([0.1, 0.1, 1.0, 0.5, 0.2])).tolist() == pytest.approx([0.425] * 4 + [0.2])


def test_falling_keeps_gains_that_fall_already() -> None:
    gains = np.array([0.9, 0.5, 0.5, 0.1])
    assert falling(gains).tolist() == gains.tolist()


def test_best_rate_equals_trying_every_lot() -> None:
    misses = [np.array([9.0, 6.5, 5.0, 4.2]), np.array([4.0, 2.5, 1.9])]
    minutes = [20.0, 7.0]
    ladder = spool_ladder(misses, minutes=minutes)
    rate, _ = best_rate(ladder, fixed_min=30, least_min=1)
    rates = [
        (misses[0][0] - misses[0][a] + misses[1][0] - misses[1][b]) / (30 + a * minutes[0] + b * minutes[1])
        for a, b in product(range(4), range(3))
    ]
    assert rate == pytest.approx(max(rates))


def test_best_rate_looks_only_at_lots_of_the_least_length() -> None:
    ladder = spool_ladder([np.array([3.0, 1.0, 0.9, 0.8])], minutes=[10.0])
    assert best_rate(ladder, fixed_min=10, least_min=1)[1] == 1
    # By hand: 30 minutes of winding are three spools, worth 2.2 in 40 minutes.
    assert best_rate(ladder, fixed_min=10, least_min=30) == (pytest.approx(2.2 / 40), 3)


def test_best_rate_takes_the_whole_ladder_where_it_is_shorter_than_the_least_run() -> None:
    ladder = spool_ladder([np.array([3.0, 1.0])], minutes=[10.0])
    assert best_rate(ladder, fixed_min=10, least_min=30)[1] == 1


def test_economic_length_stops_where_the_next_spool_does_not_pay() -> None:
    # Worths 2.0, 1.0, 0.5 and 0.1 of spools of 10 minutes: 0.2, 0.1, 0.05 and 0.01 a minute.
    ladder = spool_ladder([np.array([3.6, 1.6, 0.6, 0.1, 0.0])], minutes=[10.0])
    assert [economic_length(ladder, at_least=1, price_per_min=p) for p in (0.3, 0.06, 0.04, 0.0)] == [1, 2, 3, 4]


def test_ladder_counts_spools_by_size() -> None:
    ladder = spool_ladder([np.array([5.0, 4.0, 3.5]), np.array([2.0, 0.5])], minutes=[10.0, 10.0])
    # Worths a spool: size 0: 1.0, 0.5; size 1: 1.5. Best first: size 1, size 0, size 0.
    assert ladder.counts(2, sizes=2) == (1, 1)
    assert ladder.counts(3, sizes=2) == (2, 1)
