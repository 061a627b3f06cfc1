"""What to buy, reckoned by hand: a kilogram of spool takes a kilogram of resin and one empty spool."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from stockplan.planner.core.planning import make_plan
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.purchasing import Needs, Purchase, PurchaseTerms, needs_ahead, purchases
from tests.planner.small_facts import facts, filament, line, sku

MONDAY = date(2027, 3, 1)
DAYS = tuple(MONDAY + timedelta(days=n) for n in range(5))


def _terms(**fields: Any) -> PurchaseTerms:
    figures: dict[str, Any] = {"name": "Resin", "unit": "kg", "on_hand": 50.0, "lead_time_days": 2}
    figures |= {"is_counted": False, "pack_size": None, "supplier_minimum": 0.0}
    return PurchaseTerms(**(figures | fields))


def _bought(mean: list[float], *, variance: float = 0.0, share: float = 0.975, **fields: Any) -> Purchase | None:
    needs = Needs(DAYS, {"R": np.array(mean)}, {"R": np.full(5, variance)})
    found = purchases(needs, {"R": _terms(**fields)}, today=MONDAY, in_time_share=share)
    return found[0] if found else None


def test_item_is_bought_its_lead_time_before_the_store_runs_out() -> None:
    bought = _bought([20, 40, 60, 80, 100])
    assert bought is not None
    # 60 of 50 kg are gone on Wednesday; two days earlier is Monday.
    assert (bought.runs_out_on, bought.buy_by, bought.late_days) == (DAYS[2], DAYS[0], 0)
    assert (bought.quantity, bought.packs, bought.expected_need) == (50.0, None, 100.0)


def test_item_that_lasts_is_not_bought() -> None:
    assert _bought([10, 20, 30, 40, 50]) is None


def test_purchase_that_comes_too_late_says_by_how_many_days() -> None:
    bought = _bought([60, 60, 60, 60, 60], lead_time_days=7)
    assert bought is not None
    assert (bought.buy_by, bought.late_days) == (MONDAY, 7)


@pytest.mark.parametrize(
    ("pack_size", "minimum", "quantity", "packs"),
    [
        (25.0, 0.0, 75.0, 3),
        (None, 0.0, 51.0, None),
        (25.0, 200.0, 200.0, 8),
        (30.0, 200.0, 210.0, 7),
        (51.0, 0.0, 51.0, 1),
    ],
)
def test_quantity_is_whole_packs_and_at_least_the_minimum(
    pack_size: float | None, minimum: float, *, quantity: float, packs: int | None
) -> None:
    bought = _bought([20, 40, 60, 80, 101], pack_size=pack_size, supplier_minimum=minimum)
    assert bought is not None
    assert (bought.quantity, bought.packs) == (quantity, packs)


@pytest.mark.parametrize(("is_counted", "quantity"), [(True, 51.0), (False, 50.5)])
def test_pieces_are_bought_whole_and_kilograms_as_they_come(is_counted: bool, quantity: float) -> None:
    bought = _bought([20, 40, 60, 80, 100.5], is_counted=is_counted)
    assert bought is not None
    assert (bought.quantity, bought.packs) == (quantity, None)


def test_spread_of_demand_is_covered_by_the_share_asked_for() -> None:
    # Standard normal quantile of 97.5 %: 1.959964 (any table); sd 10 kg.
    bought = _bought([45, 45, 45, 45, 45], variance=100.0)
    assert bought is not None
    assert bought.quantity == pytest.approx(45 + 19.59964 - 50, abs=1e-4)


def test_most_urgent_comes_first_and_unkept_items_are_left_out() -> None:
    level = np.full(5, 60.0)
    needs = Needs(DAYS, {"R": level, "S": level, "T": level}, dict.fromkeys("RST", np.zeros(5)))
    terms = {"R": _terms(lead_time_days=0), "S": _terms(lead_time_days=0, on_hand=0.0)}
    late = replace(terms["R"], lead_time_days=1)
    found = purchases(needs, terms | {"S": late}, today=MONDAY - timedelta(days=9), in_time_share=0.5)
    assert [p.item for p in found] == ["S", "R"]


def test_runs_of_the_list_need_their_materials_when_they_start() -> None:
    owed = sku("A", days=8, due=(0, *(4,) * 7), mean=(0.0,) * 8, variance=(0.0,) * 8, order_up_to=0)
    plan = make_plan(facts(skus=(owed, sku("B", days=8, mean=(0.0,) * 8, variance=(0.0,) * 8, order_up_to=0))))
    runs = [row.ranked.run for row in plan.runs]
    needs = needs_ahead(plan.plant, runs, all_supply=plan.state.all_supply, lead_days={"A": 2.0, "B": 2.0})
    np.testing.assert_allclose(needs.mean["RESIN-PLA"], 4.0)
    np.testing.assert_allclose(needs.mean["SPOOL"], 4.0)


def test_demand_beyond_the_supply_needs_materials_a_lead_time_earlier() -> None:
    # Two a day against five spools of supply: 1, 3, 5, 7, ... are lacking from the third day on.
    steady = sku("A", daily=2.0, days=8)
    plant = plant_of(facts(codes=("A",), skus=(steady,)).in_order())
    needs = needs_ahead(plant, [], all_supply=np.array([5]), lead_days={"A": 2.0})
    np.testing.assert_allclose(needs.mean["SPOOL"], [1, 3, 5, 7, 9, 11, 11, 11])
    np.testing.assert_allclose(needs.variance["SPOOL"], [6, 8, 10, 12, 14, 16, 16, 16])


def test_scrap_and_let_down_share_resin_and_concentrate() -> None:
    coloured = filament("A", let_down_share=0.04, concentrate_item="CC-A")
    plant = plant_of(
        facts(
            codes=("A",),
            skus=(sku("A", daily=2.0, days=8),),
            filaments=(coloured,),
            lines=(line(makes=("A",), scrap_share=0.2),),
        ).in_order()
    )
    needs = needs_ahead(plant, [], all_supply=np.array([15]), lead_days={"A": 0.0})
    # One spool is lacking on the last day: 1 kg / 0.8 of melt, 4 % of it concentrate.
    assert needs.mean["RESIN-PLA"][-1] == pytest.approx(1.2)
    assert needs.mean["CC-A"][-1] == pytest.approx(0.05)
    # Sixteen is the variance of Poisson demand of two a day over eight days, in spools.
    assert needs.variance["RESIN-PLA"][-1] == pytest.approx(1.2**2 * 16)
