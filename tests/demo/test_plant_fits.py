"""The demo's lines, ovens and dryers are busy, and can do the work."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from stockplan.demo.bottlenecks import dryer_loads, oven_loads
from stockplan.demo.capacity import kg_per_hour, line_load
from stockplan.demo.generate import DemoPlant
from stockplan.demo.opening import SHORT_ITEMS
from stockplan.demo.orders import SHORT_FILAMENTS
from stockplan.demo.site import LINES


def test_lines_are_loaded_between_75_and_85_percent(plant: DemoPlant) -> None:
    load = line_load(plant.catalogue, lines=plant.order_book.lines, timeline=plant.timeline).lines
    total = (load["run_h"].sum() + load["changeover_h"].sum()) / load["attended_h"].sum()
    assert 0.75 <= total <= 0.85
    assert load["load_share"].between(0.70, 0.90).all()


def test_ovens_and_dryers_suffice_but_are_not_endless(plant: DemoPlant) -> None:
    given = {"lines": plant.order_book.lines, "timeline": plant.timeline}
    assert oven_loads(plant.catalogue, **given)["load_share"].between(0.4, 0.85).all()
    assert dryer_loads(plant.catalogue, **given)["load_share"].between(0.1, 0.85).all()


def test_kg_per_hour_is_counted_from_the_strand() -> None:
    # By hand: EX2 winds PLA 1.75 mm at 43 m/min. pi/4 x 0.175^2 cm2 = 0.024053 cm2; x 4300 cm/min = 103.43 cm3/min;
    # x 1.24 g/cm3 = 128.25 g/min; x 60 = 7.695 kg/h, above the extruder's 7.6 kg/h.
    line = next(line for line in LINES if line.code == "EX2")
    assert kg_per_hour(line, material="PLA", diameter="1.75") == 7.6
    # PETG at 38 m/min: 0.024053 x 3800 x 1.27 x 60 / 1000 = 6.965 kg/h, below it.
    assert kg_per_hour(line, material="PETG", diameter="1.75") == pytest.approx(6.965, abs=0.001)
    assert math.isnan(kg_per_hour(line, material="PLA", diameter="2.85"))


def test_every_filament_has_a_line_and_lines_differ(plant: DemoPlant) -> None:
    speeds = plant.tables["line_speeds.csv"]
    assert set(speeds["filament"]) == set(plant.tables["filaments.csv"]["code"])
    assert speeds.groupby("line")["filament"].agg(frozenset).nunique() == 4
    assert plant.tables["lines.csv"]["extruder_kg_h"].nunique() == 4


def test_spools_dry_overnight(plant: DemoPlant) -> None:
    clock = plant.tables["work_days.csv"]
    until_morning = pd.to_timedelta(clock["pack_from"] + ":00") + pd.Timedelta(days=1)
    night_h = (until_morning - pd.to_timedelta(clock["oven_load_at"] + ":00")) / pd.Timedelta(hours=1)
    dry_h = plant.tables["materials.csv"]["spool_dry_hours"].astype(float)
    assert dry_h.max() <= night_h.min() < 12
    assert dry_h.min() > 5


def test_opening_stock_is_sensible_for_most_and_short_for_a_few(plant: DemoPlant, skus: pd.DataFrame) -> None:
    stock = plant.tables["opening_stock.csv"].set_index("item")
    shelf = stock.loc[stock["place"] == "shelf", "quantity"].reindex(skus["code"], fill_value=0).astype(int)
    on_sale = (skus["is_stocked"] == "yes") & (skus["active_to"] == "")
    empty = (shelf.to_numpy() == 0) & on_sale
    assert 0.01 < empty.sum() / on_sale.sum() < 0.15
    assert skus.loc[empty, "filament"].isin(SHORT_FILAMENTS).mean() > 0.5


def test_materials_are_short_only_where_the_demo_says(plant: DemoPlant) -> None:
    stock = plant.tables["opening_stock.csv"]
    store = stock[stock["place"] == "resin_store"].assign(quantity=lambda table: table["quantity"].astype(float))
    on_hand = store.groupby("item")["quantity"].sum()
    resin = on_hand[on_hand.index.str.startswith("RESIN-")]
    assert set(resin[resin < 50].index) == {"RESIN-PA"} <= set(SHORT_ITEMS)
    concentrate = on_hand[on_hand.index.str.startswith("CC-")]
    assert set(concentrate[concentrate < 1].index) == {"CC-EMB"} <= set(SHORT_ITEMS)
