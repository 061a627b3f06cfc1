"""A listed run recomputed from the stored rows: scipy's distributions, sums over days, a calendar by hand.

The definition is that of the design: m(t) = E[(D(t) - S(t))+] - E[(D(t-1) - S(t))+], and each unit that is late when a
day begins counts another tenth of a miss. Nothing here calls the planner's own arithmetic.
"""

from __future__ import annotations

import math
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from scipy import stats

from inventory.models import Oven, ShelfStock
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList
from stockplan.planner.services.make_lists import compute_make_list
from tests.inventory.builders import TinyPlant, local
from tests.planner.conftest import order
from tests.planner.test_forecasts import _weeks_of_orders

AS_OF = local("2027-03-01 10:00")
MOST_UNITS = 400


@pytest.fixture(params=[500, 4], ids=["an oven for all of it", "an oven for a few spools a night"])
def listed(plant: TinyPlant, request: pytest.FixtureRequest) -> ListedRun:
    """The run of black after eight weeks of a spool a day, six and two more being wanted on Thursday."""
    Oven.objects.update(places=request.param)
    _weeks_of_orders()
    order("ONE", [("PLA-BLACK-1000", 6), ("PLA-BLACK-250", 2)], at="2027-03-01 08:00", wanted="2027-03-04")
    made = compute_make_list(as_of=AS_OF, now=AS_OF, days=5)
    return made.runs.get(rank=1)


def _shortage(units: float, *, mean: float, variance: float, certain: int) -> float:
    """E[(certain + D - units)+] with D negative binomial, by its sum."""
    if mean == 0:
        return max(certain - units, 0.0)
    known = stats.nbinom(mean**2 / (variance - mean), mean / variance) if variance > mean * (1 + 1e-9) else None
    demand = known or stats.poisson(mean)
    return float(sum(max(certain + k - units, 0) * demand.pmf(k) for k in range(MOST_UNITS)))


def _misses(size: ListedRunSize, supply: list[int]) -> float:
    make_list: MakeList = size.listed_run.make_list
    row = make_list.forecast_run.skus.get(sku=size.sku)
    days = [date.fromisoformat(day) for day in make_list.forecast_run.parameters["days"]]
    total, before = 0.0, (0.0, 0.0, 0)
    for t, day in enumerate(days):
        now = (row.mean[t], row.variance[t], row.already_received[t])
        short, was_short = (
            _shortage(supply[t], mean=mean, variance=variance, certain=certain)
            for mean, variance, certain in (now, before)
        )
        beyond = sum(make_list.last_day < other <= day for other in days)
        total += math.exp(-beyond / 6) * ((short - was_short) + 0.1 * was_short)
        before = now
    return total


def _supply(size: ListedRunSize) -> tuple[list[int], list[int]]:
    """Cumulated supply without and with the run's spools."""
    days = size.listed_run.make_list.forecast_run.parameters["days"]
    shelf = sum(ShelfStock.objects.filter(sku=size.sku).values_list("on_shelf", flat=True))
    made = [sum(a["spools"] for a in size.arrivals if a["day"] <= day) for day in days]
    return [shelf] * len(days), [shelf + spools for spools in made]


def test_misses_avoided_of_every_size_hold_when_recomputed(listed: ListedRun) -> None:
    sizes = list(listed.sizes.all())
    assert len(sizes) == 2
    again = [_misses(size, without) - _misses(size, made) for size in sizes for without, made in [_supply(size)]]
    assert [size.misses_avoided for size in sizes] == pytest.approx(again, abs=1e-5)


def test_arrivals_of_every_size_add_up_to_its_spools_until_the_shelf_day(listed: ListedRun) -> None:
    sizes = list(listed.sizes.all())
    assert [sum(a["spools"] for a in size.arrivals) for size in sizes] == [size.spools for size in sizes]
    assert max(a["day"] for size in sizes for a in size.arrivals) == listed.shelf_day.isoformat()


def test_worth_per_hour_holds_when_recomputed(listed: ListedRun) -> None:
    avoided = sum(size.misses_avoided for size in listed.sizes.all())
    assert listed.worth_per_hour == pytest.approx(avoided / ((listed.changeover_min + listed.run_min) / 60))


def test_day_of_running_out_is_the_first_on_which_expected_demand_is_above_the_shelf(listed: ListedRun) -> None:
    forecast = listed.make_list.forecast_run
    days = [date.fromisoformat(day) for day in forecast.parameters["days"]]
    rows = [forecast.skus.get(sku=size.sku) for size in listed.sizes.all()]
    short = [day for row in rows for t, day in enumerate(days) if row.already_received[t] + row.mean[t] > 0]
    assert listed.runs_out_on == min(short)


@pytest.mark.parametrize("as_of", ["2027-03-01 10:00", "2027-03-05 10:00", "2027-03-05 14:00"])
def test_shelf_day_holds_when_recomputed_over_a_weekend(plant: TinyPlant, as_of: str) -> None:
    order("ONE", [("PLA-BLACK-1000", 6)], at="2027-02-26 08:00", wanted="2027-03-08")
    run = compute_make_list(as_of=local(as_of), now=local(as_of), days=5).runs.get(rank=1)
    assert run.shelf_day == _shelf_day(run.end)


def _shelf_day(end: datetime) -> date:
    """Ovens are loaded at 17:00 on weekdays and dry overnight; the next weekday morning it is packed and shelved."""
    day = end.astimezone(ZoneInfo("Europe/Berlin"))
    load = day.date() if day.time() <= time(17) else day.date() + timedelta(days=1)
    load = _weekday(load)
    return _weekday(load + timedelta(days=1))


def _weekday(day: date) -> date:
    return day + timedelta(days=max(7 - day.weekday(), 0) if day.weekday() > 4 else 0)
