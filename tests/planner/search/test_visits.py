"""The cheapest visits of lines against every order of families, at whatever setups there are."""

from __future__ import annotations

from functools import cache
from itertools import pairwise, permutations

import numpy as np
import pytest

from stockplan.planner.core.search.problem import NOTHING, Floats
from stockplan.planner.core.search.visits import Groups, Visited, Visits, groups_of

DAYS = 3


def cheapest_order(excess: Floats, holds: int, *, price: Floats, worth: Floats) -> float:
    """Cost of the best of all orders of visits of one line, with the minutes of its setups as they are."""
    orders = [order for n in range(len(excess) + 1) for order in permutations(range(len(excess)), n)]

    def on_day(day: int, held: int, order: tuple[int, ...]) -> float:
        taken = sum(excess[a, b] for a, b in pairwise((held, *order) if held >= 0 else order))
        seen = list({held, *order} - {NOTHING})
        return taken * price[day] - float(worth[seen, day].sum()) + onwards(day + 1, order[-1] if order else held)

    @cache
    def onwards(day: int, held: int) -> float:
        return 0.0 if day == DAYS else min(on_day(day, held, order) for order in orders)

    return onwards(0, holds)


def drawn(seed: int, families: int = 5) -> tuple[Floats, Floats, Floats]:
    """Setups beyond the least that keep to no rule, falling prices of a minute, worths of visits."""
    rng = np.random.default_rng(seed)
    excess = rng.integers(0, 60, (families, families)) * rng.integers(0, 2, (families, families))
    np.fill_diagonal(excess, 0)
    price = np.sort(rng.uniform(0, 0.3, DAYS))[::-1]
    return excess.astype(float), price, rng.uniform(0, 3, (families, DAYS))


def by_shade(seed: int, families: int = 5) -> Floats:
    """Setups by shade within two materials, and 40 min between them."""
    rng = np.random.default_rng(seed)
    shade, of = rng.integers(0, 30, families), rng.integers(0, 2, families)
    up = np.maximum(shade - shade[:, None], 0)
    return np.where(of == of[:, None], up, 40).astype(float)


def visited(groups: Groups, price: Floats, worth: Floats) -> Visited:
    return Visits(groups, days=DAYS).cheapest(price[None], worth)


@pytest.mark.parametrize("holds", [NOTHING, 0, 3])
def test_visits_cost_no_more_than_the_best_order(holds: int) -> None:
    for seed in range(15):
        excess, price, worth = drawn(seed)
        found = visited(groups_of(excess[None], pools=[0], holds=[holds]), price, worth)
        assert found.cost <= cheapest_order(excess, holds, price=price, worth=worth) + 1e-9


def test_visits_cost_as_much_as_the_best_order_where_setups_go_by_shade_and_material() -> None:
    gaps = []
    for seed in range(15):
        excess, (_, price, worth) = by_shade(seed), drawn(seed)
        found = visited(groups_of(excess[None], pools=[0], holds=[0]), price, worth)
        gaps.append(cheapest_order(excess, 0, price=price, worth=worth) - found.cost)
    assert min(gaps) >= -1e-9
    # Only between materials is the shade left out.
    assert np.median(gaps) < 1e-9


def test_cost_is_that_of_the_minutes_and_visits_found() -> None:
    for seed in range(15):
        excess, price, worth = drawn(seed, families=8)
        found = visited(groups_of(excess[None], pools=[0, 0, 0], holds=[0, 0, 1]), price, worth)
        assert found.cost == pytest.approx(float(found.minutes[0] @ price - (worth * found.visits).sum()), abs=1e-9)
        assert found.visits.max() <= 3


def test_lines_that_cannot_make_a_family_do_not_visit_it() -> None:
    excess, price, worth = drawn(1)
    excess[:, 2] = np.inf
    found = visited(groups_of(excess[None], pools=[0], holds=[0]), price, worth)
    assert found.visits[2].sum() == 0
    assert found.visits.sum() > 0
