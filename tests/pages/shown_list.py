"""The make list of the shown plant and the forecast that it stands on, as rows."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from forecasting.messages import message
from inventory.models import Filament, Sku
from stockplan.planner.models import (
    ForecastRun,
    ListedRun,
    ListedRunSize,
    MakeList,
    NotListed,
    SkuForecast,
    StockTarget,
)
from tests.inventory.builders import TinyPlant

# Eight past risk periods with 40 spools of demand: half of the outcomes in the highest tenth, none below the middle.
TRACK = {"windows": 8, "demand": 40.0, "loss": 3.0, "plain_loss": 4.0} | {
    f"pit_{tenth}": spools for tenth, spools in enumerate([0, 0, 0, 0, 0, 1, 1, 1, 1, 4], start=1)
}


def build_list(tiny: TinyPlant, *, ruby: Filament, ruby_1kg: Sku, sand: Filament, now: datetime) -> MakeList:
    """The list that the first lines of `shown_plant` tell."""
    today = timezone.localdate()
    make_list = MakeList.objects.create(
        forecast_run=build_forecast([tiny.black_1kg, tiny.natural_1kg, ruby_1kg], now=now),
        as_of=now,
        created_at=now,
        first_day=today,
        last_day=today + timedelta(days=6),
        data_digest="-",
        code_version="test",
        assumptions=[message("Lines are available {share:.0%} of their shifts.", share=0.9)],
        misses_without=12.5,
        misses_with=3.5,
        misses_on_its_days=1.25,
        limit=message("the lines wait {share:.0%} of their time for dry resin", share=0.12),
        hours_short_per_week=2.5,
        compute_seconds=1.5,
    )
    later = now + timedelta(hours=4)
    _list_run(make_list, rank=1, filament=tiny.natural, sku=tiny.natural_1kg, place=2, tiny=tiny, start=later)
    _list_run(make_list, rank=2, filament=tiny.black, sku=tiny.black_1kg, place=1, tiny=tiny, start=now)
    _list_run(make_list, rank=3, filament=ruby, sku=ruby_1kg, place=None, tiny=tiny, start=None)
    NotListed.objects.create(
        make_list=make_list, filament=sand, cause="enough", sentence=message("Free stock lasts for five more weeks.")
    )
    return make_list


def build_forecast(skus: list[Sku], *, now: datetime) -> ForecastRun:
    """One forecast: half a spool a ship day, with the spread of a Poisson count."""
    scores = [
        _score(demand_class, method, loss=loss, is_benchmark=method == "seasonal naive")
        for demand_class in ("intermittent", "all")
        for method, loss in (("chosen", 0.40), ("seasonal naive", 0.50))
    ]
    days = [(timezone.localdate() + timedelta(days=ahead)).isoformat() for ahead in range(1, 11)]
    run = ForecastRun.objects.create(
        as_of=now,
        created_at=now,
        horizon_days=10,
        data_digest="-",
        code_version="test",
        benchmarks=scores,
        parameters={"days": days},
    )
    halves = [0.5 * ahead for ahead in range(1, 11)]
    for sku in skus:
        SkuForecast.objects.create(
            forecast_run=run,
            sku=sku,
            method="tsb 0.1",
            reason=message("It sells on fewer than half of the ship days."),
            demand_class="intermittent",
            mean=halves,
            variance=halves,
            already_received=[1.0] * 10,
            track=TRACK if sku.item.code == "PLA-BLACK-1000" else {},
        )
        StockTarget.objects.create(
            forecast_run=run,
            sku=sku,
            order_up_to=8,
            safety_stock=3.5,
            lead_days=3,
            review_days=6,
            cycle_service=0.97,
            fill_rate=0.985,
            reason=message("Covers nine ship days."),
        )
    return run


def _score(demand_class: str, method: str, *, loss: float, is_benchmark: bool) -> dict[str, Any]:
    return {
        "demand_class": demand_class,
        "method": method,
        "is_benchmark": is_benchmark,
        "windows": 30,
        "loss": loss,
        "coverage_0.5": 0.52,
        "coverage_0.95": 0.96,
    }


def _list_run(
    make_list: MakeList,
    *,
    rank: int,
    filament: Filament,
    sku: Sku,
    place: int | None,
    tiny: TinyPlant,
    start: datetime | None,
) -> None:
    end = start + timedelta(hours=2) if start else None
    shelf_at = end + timedelta(days=1) if end else None
    missing = {
        "item": "MB-RUBY",
        "name": "Ruby concentrate",
        "quantity": 4.5,
        "unit": "kg",
        "buy_by": timezone.localdate().isoformat(),
    }
    listed = ListedRun.objects.create(
        make_list=make_list,
        rank=rank,
        filament=filament,
        line=tiny.line if place else None,
        place_on_line=place,
        changeover_min=12,
        run_min=120,
        purge_kg=1.6,
        resin_kg=8,
        start=start,
        end=end,
        shelf_at=shelf_at,
        shelf_day=shelf_at.date() if shelf_at else None,
        misses_avoided=10 - rank,
        worth_per_hour=5 - rank,
        reason=message("Reason of rank {rank}.", rank=rank),
        is_blocked=place is None,
        missing=[] if place else [missing],
    )
    ListedRunSize.objects.create(
        listed_run=listed, sku=sku, spools=6 + rank, free=0, order_up_to=8, misses_avoided=10 - rank
    )
