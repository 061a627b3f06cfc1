"""The earliest day that capacity could give, and the projected stock of one SKU."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from inventory.models import LineSpeed
from stockplan.planner.selectors.capacity import earliest_capacity_days
from stockplan.planner.selectors.make_lists import MakeListNotFoundError
from stockplan.planner.selectors.projection import projected_stock
from stockplan.planner.services.make_lists import compute_make_list
from tests.inventory.builders import TinyPlant, build_supply, local, put_on_shelf

AS_OF = local("2027-03-01 10:00")


def test_capacity_day_of_a_small_order_is_the_next_morning(plant: TinyPlant) -> None:
    # Dry by 14:00, 6 spools wound within the hour, oven at 17:00, shelved on Tuesday.
    assert earliest_capacity_days([(plant.black_1kg.pk, 6)], as_of=AS_OF) == {(plant.black_1kg.pk, 6): date(2027, 3, 2)}


def test_capacity_day_of_a_large_order_counts_its_winding(plant: TinyPlant) -> None:
    # 9.84 kg/h x 0.98 x 0.9 = 8.68 kg/h: 40 kg from 14:15 take until 18:52, after Monday's oven.
    assert earliest_capacity_days([(plant.black_1kg.pk, 40)], as_of=AS_OF) == {
        (plant.black_1kg.pk, 40): date(2027, 3, 3)
    }


def test_capacity_day_is_none_where_no_line_can_make_it(plant: TinyPlant) -> None:
    LineSpeed.objects.filter(filament=plant.black).delete()
    assert earliest_capacity_days([(plant.black_1kg.pk, 1)], as_of=AS_OF) == {(plant.black_1kg.pk, 1): None}


def test_projection_adds_what_is_planned_and_takes_what_is_ordered(ordered: TinyPlant) -> None:
    put_on_shelf(ordered.black_1kg, 1, at="2027-03-01 09:00")
    build_supply(ordered, sku=ordered.black_1kg, quantity=2, shelf_day=date(2027, 3, 3), code="R9")
    fan = projected_stock("PLA-BLACK-1000", compute_make_list(as_of=AS_OF, now=AS_OF, days=5).id)
    first = {row.day: row for row in fan.rows}
    # 1 on the shelf, 2 of the released run, 3 of the list's own: 6 in all, which Thursday's order takes.
    assert sum(row.supply for row in fan.rows) == 5
    assert first[date(2027, 3, 1)].mean == 1
    assert first[date(2027, 3, 4)].mean == 0


def test_projection_bands_do_not_cross(ordered: TinyPlant) -> None:
    fan = projected_stock("PLA-BLACK-1000", compute_make_list(as_of=AS_OF, now=AS_OF, days=5).id)
    bands = np.array([row.quantiles for row in fan.rows])
    assert (np.diff(bands, axis=1) >= 0).all()


def test_projection_of_an_unknown_sku_is_refused(plant: TinyPlant) -> None:
    make_list = compute_make_list(as_of=AS_OF, now=AS_OF, days=5)
    with pytest.raises(MakeListNotFoundError, match="knows no SKU"):
        projected_stock("NOTHING", make_list.id)
