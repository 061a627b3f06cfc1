"""Forecast and stock levels as they are stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pandas as pd
import pytest
from scipy import stats

from inventory.models import Channel, PlantParameters
from inventory.services.shipments import ship_order
from stockplan.planner.core.stock_levels import line_share
from stockplan.planner.models import ForecastRun
from stockplan.planner.selectors.demand_basis import demand_basis
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.selectors.track_records import track_record
from stockplan.planner.services.announcements import announce_demand
from stockplan.planner.services.forecasts import ListDaysError, compute_forecast
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")


def _weeks_of_orders(spools: int = 1) -> None:
    """One spool of black a ship day, or more, for eight weeks."""
    days = [date.fromordinal(date(2027, 1, 4).toordinal() + 7 * week + day) for week in range(8) for day in range(5)]
    for day in days:
        order(f"{day}", [("PLA-BLACK-1000", spools)], at=f"{day} 09:00")


def test_forecast_without_history_says_so(plant: TinyPlant) -> None:
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    row = stored.skus.get(sku=plant.black_1kg)
    assert (row.method, row.mean[-1]) == ("none", 0.0)


@pytest.mark.parametrize("days", [0, 41])
def test_forecast_refuses_a_list_of_absurd_length(plant: TinyPlant, days: int) -> None:
    with pytest.raises(ListDaysError, match="1 to 40"):
        compute_forecast(as_of=AS_OF, now=AS_OF, days=days)
    assert not ForecastRun.objects.exists()


def test_forecast_of_a_steady_seller_is_its_daily_rate(plant: TinyPlant) -> None:
    _weeks_of_orders()
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    mean = stored.skus.get(sku=plant.black_1kg).mean
    # One a ship day; today's window at 10:00 has only what comes after 09:00, and all orders came at 09:00.
    assert mean[0] == pytest.approx(0.0, abs=0.02)
    assert mean[10] - mean[5] == pytest.approx(5.0, abs=0.3)


@pytest.mark.parametrize("hides", [True, False])
def test_forecast_takes_days_without_stock_for_unknown_where_the_shop_hides_them(plant: TinyPlant, hides: bool) -> None:
    """Twenty-five spools are sold, one a day, then none for eight weeks, which say nothing if hidden."""
    Channel.objects.update(hides_unavailable=hides)
    put_on_shelf(plant.black_1kg, 25, at="2026-11-30 06:00")
    days = [day.date() for day in pd.bdate_range("2026-11-30", "2027-02-26")]
    for day in days[:25]:
        placed = order(f"{day}", [("PLA-BLACK-1000", 1)], at=f"{day} 09:00")
        ship_order(order_id=placed, clock=clock(f"{day} 15:00"))
    put_on_shelf(plant.black_1kg, 100, at="2027-03-01 06:00", lot_code="AGAIN")
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    mean = stored.skus.get(sku=plant.black_1kg).mean
    rate = (mean[10] - mean[5]) / 5
    # The SKU beside it never sold, and draws a rate of 25 sales down a little.
    assert rate == pytest.approx(1.0, abs=0.15) if hides else rate < 0.6


def test_forecast_keeps_the_track_record_of_each_sku(plant: TinyPlant) -> None:
    _weeks_of_orders()
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    record = track_record(stored.skus.get(sku=plant.black_1kg).track)
    assert record is not None
    assert sum(record.tenths) == pytest.approx(1.0)
    assert record.demand > 0


def test_forecast_keeps_what_is_already_ordered_by_day(plant: TinyPlant) -> None:
    order("AHEAD", [("PLA-BLACK-1000", 3)], at="2027-03-01 09:00", wanted="2027-03-03")
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    assert stored.skus.get(sku=plant.black_1kg).already_received[:4] == [0, 0, 3, 3]


def test_level_has_the_target_cycle_service_over_its_risk_period(plant: TinyPlant) -> None:
    _weeks_of_orders()
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    target = stored.targets.get(sku=plant.black_1kg)
    row = stored.skus.get(sku=plant.black_1kg)
    risk = -int(-(target.lead_days + target.review_days) // 1) - 1
    mean, variance = row.mean[risk], row.variance[risk]
    # Reference: scipy's negative binomial (Poisson without excess variance) at the moments of the risk period.
    shape = (mean**2 / (variance - mean), mean / variance) if variance > mean else None
    known = stats.nbinom(*shape) if shape else stats.poisson(mean)
    assert known.cdf(target.order_up_to) >= 0.97 > known.cdf(target.order_up_to - 1)


def test_level_says_what_it_aims_at_what_it_reaches_and_what_its_days_are(plant: TinyPlant) -> None:
    _weeks_of_orders()
    target = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run.targets.get(sku=plant.black_1kg)
    assert str(target.reason) == (
        f"The level aims at 97.0% of cycles without a stock-out; {target.order_up_to} spools reach "
        f"{target.cycle_service:.1%}. A cycle is {target.lead_days:.1f} ship days until a run is on the shelf and "
        f"{target.review_days:.1f} until the next one."
    )


def test_made_to_order_has_no_level_and_no_expected_demand_in_the_list(plant: TinyPlant) -> None:
    _weeks_of_orders()
    plant.black_1kg.is_stocked = False
    plant.black_1kg.save()
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    assert stored.targets.get(sku=plant.black_1kg).order_up_to == 0


def test_line_share_of_two_lines_is_the_root_of_the_order_share() -> None:
    # By hand: two lines of 0.9 each are both there in 81 % of the orders.
    assert line_share(0.81, lines_per_order=2) == pytest.approx(0.9)
    assert line_share(0.97, lines_per_order=1) == pytest.approx(float(PlantParameters().target_share))


def test_forecast_of_the_same_facts_is_not_computed_again(plant: TinyPlant) -> None:
    first = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    assert compute_forecast(as_of=AS_OF, now=local("2027-03-01 11:00"), days=10).run == first


@pytest.mark.parametrize("change", [{"target_share": "0.8"}, {"order_target_share": "0.9"}, {"review_days": 9}])
def test_forecast_is_computed_again_when_what_levels_aim_at_has_changed(
    plant: TinyPlant, change: dict[str, object]
) -> None:
    first = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    PlantParameters.objects.update(**change)
    assert compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run != first


def test_forecast_does_not_know_what_was_posted_later(plant: TinyPlant) -> None:
    _weeks_of_orders()
    before = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    order("SPIKE", [("PLA-BLACK-1000", 900)], at="2027-03-02 09:00")
    again = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    assert again == before


def test_digest_of_demand_tells_any_number_that_differs(plant: TinyPlant) -> None:
    _weeks_of_orders()
    basis = demand_basis(as_of=AS_OF, calendar=calendar_around(AS_OF))
    others = []
    for name in ("history", "orders", "available"):
        table = getattr(basis, name).copy()
        table.iloc[-1, 0] += 1e-9
        others.append(replace(basis, **{name: table}))
        others.append(replace(basis, **{name: getattr(basis, name).iloc[1:]}))
        others.append(replace(basis, **{name: getattr(basis, name).iloc[:, ::-1]}))
    assert len({basis.digest, *(other.digest for other in others)}) == 1 + len(others)
    assert demand_basis(as_of=AS_OF, calendar=calendar_around(AS_OF)).digest == basis.digest


@pytest.mark.clean_error_of("stocktarget_built_ahead_is_part_of_it")
def test_stock_for_a_promotion_that_the_lines_cannot_follow_is_built_ahead(plant: TinyPlant) -> None:
    _weeks_of_orders(20)
    usual = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    announce_demand(
        name="Fair",
        first_day=date(2027, 4, 5),
        last_day=date(2027, 4, 16),
        factor=Decimal(20),
        filament_code="PLA-BLACK-1.75",
        clock=clock("2027-02-20 09:00"),
    )
    forecast = compute_forecast(as_of=AS_OF, now=AS_OF, days=10)
    row, before = forecast.run.targets.get(sku=plant.black_1kg), usual.targets.get(sku=plant.black_1kg)
    assert before.built_ahead == 0
    assert row.built_ahead > 0
    assert row.order_up_to == before.order_up_to + row.built_ahead
    assert f"{row.built_ahead} more are built ahead of the weeks from Mon 5 Apr to Fri 16 Apr" in str(row.reason)
    assert "the lines can follow it" in str(usual.later_weeks)
    facts = forecast.facts()
    assert f"{row.built_ahead} spools above the levels" in str(facts.later_weeks)
    assert [sku.ahead for sku in facts.skus if sku.code == "PLA-BLACK-1000"] == [row.built_ahead]
