"""Announced demand: refused where it makes no sense, and taken into account where it does."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
import pytest

from stockplan.planner.models import AnnouncedDemand
from stockplan.planner.selectors.announcements import announcements_at, event_factors
from stockplan.planner.services.announcements import AnnouncementError, announce_demand, withdraw_announcement
from stockplan.planner.services.forecasts import compute_forecast
from tests.inventory.builders import TinyPlant, clock, local
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")
FAIR: dict[str, Any] = {
    "name": "Fair",
    "first_day": date(2027, 3, 3),
    "last_day": date(2027, 3, 4),
    "factor": Decimal(3),
    "filament_code": "PLA-BLACK-1.75",
}
EARLY = clock("2027-02-20 09:00")


@pytest.mark.parametrize(
    ("wrong", "words", "pointer"),
    [
        ({"name": "  "}, "Say what it is", "/name"),
        ({"last_day": date(2027, 3, 2)}, "before it begins", "/last_day"),
        ({"last_day": date(2028, 3, 3)}, "a year at most", "/last_day"),
        ({"factor": Decimal("0.04")}, "0.05 to 20", "/factor"),
        ({"factor": Decimal("20.01")}, "0.05 to 20", "/factor"),
        ({"material_code": "PLA"}, "not both", "/filament"),
        ({"filament_code": "NONE"}, "no filament NONE", "/filament"),
        ({"filament_code": None, "material_code": "NONE"}, "no material NONE", "/material"),
    ],
)
def test_announcement_is_refused_with_its_field(
    plant: TinyPlant, wrong: dict[str, Any], words: str, pointer: str
) -> None:
    with pytest.raises(AnnouncementError, match=words) as refusal:
        announce_demand(**(FAIR | wrong), clock=EARLY)
    assert refusal.value.pointer == pointer
    assert not AnnouncedDemand.objects.exists()


def test_announcement_is_known_from_its_instant_until_it_is_withdrawn(plant: TinyPlant) -> None:
    row = announce_demand(**FAIR, clock=clock("2027-02-20 09:00"))
    withdraw_announcement(announcement_id=row.pk, clock=clock("2027-02-22 09:00"))
    known = [bool(announcements_at(local(f"2027-02-{day} 12:00"))) for day in (19, 20, 21, 22)]
    assert known == [False, True, True, False]
    with pytest.raises(AnnouncementError, match="in force"):
        withdraw_announcement(announcement_id=row.pk, clock=clock("2027-02-23 09:00"))


def test_factors_of_days_multiply_where_announcements_overlap(plant: TinyPlant) -> None:
    announce_demand(**FAIR, clock=EARLY)
    every = FAIR | {"filament_code": None, "first_day": date(2027, 3, 4), "last_day": date(2027, 3, 4)}
    announce_demand(**(every | {"factor": Decimal("0.5")}), clock=EARLY)
    days = [date(2027, 3, day) for day in (2, 3, 4)]
    skus = [plant.black_1kg.pk, plant.natural_1kg.pk]
    factors = event_factors(announcements_at(AS_OF), days=days, sku_ids=skus)
    assert factors is not None
    np.testing.assert_array_equal(factors.to_numpy(), [[1, 1], [3, 1], [1.5, 0.5]])


def test_nothing_announced_for_the_days_gives_no_factors(plant: TinyPlant) -> None:
    announce_demand(**FAIR, clock=EARLY)
    skus = [plant.black_1kg.pk]
    assert event_factors(announcements_at(AS_OF), days=[date(2027, 3, 5)], sku_ids=skus) is None


def _mean_by_day(plant: TinyPlant) -> np.ndarray:
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    return np.diff(stored.skus.get(sku=plant.black_1kg).mean)


def test_forecast_takes_coming_announced_demand_into_account(plant: TinyPlant) -> None:
    for day in pd.bdate_range("2026-12-01", "2027-02-26"):
        order(f"{day.date()}", [("PLA-BLACK-1000", 1)], at=f"{day.date()} 09:00")
    before = _mean_by_day(plant)
    announce_demand(**FAIR, clock=EARLY)
    # Tuesday the 2nd and Friday the 5th stay; Wednesday and Thursday are tripled, but for the say of the plain methods.
    np.testing.assert_allclose(_mean_by_day(plant)[:4] / before[:4], [1, 3, 3, 1], rtol=0.05)


def test_what_a_past_promotion_sold_does_not_raise_the_level(plant: TinyPlant) -> None:
    for day in pd.bdate_range("2026-12-01", "2027-02-26"):
        spools = 4 if day >= pd.Timestamp("2027-02-15") else 1
        order(f"{day.date()}", [("PLA-BLACK-1000", spools)], at=f"{day.date()} 09:00")
    days = {"first_day": date(2027, 2, 15), "last_day": date(2027, 2, 26), "factor": Decimal(4)}
    unexplained = _mean_by_day(plant).mean()
    announce_demand(**(FAIR | days), clock=EARLY)
    assert unexplained > 1.5
    assert _mean_by_day(plant).mean() == pytest.approx(1.0, abs=0.15)
