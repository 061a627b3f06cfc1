"""Every feature that the demo claims is in its orders. Bounds leave room for chance at the default seed."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from itertools import combinations

import numpy as np
import pandas as pd

from stockplan.demo.catalogue import LAUNCHES
from stockplan.demo.colours import RETIRED
from stockplan.demo.generate import DemoPlant
from stockplan.demo.orders import SHORT_FILAMENTS
from stockplan.demo.outcomes import STOCK_OUT_SKU, due_positions


def due_days(plant: DemoPlant, rows: pd.DataFrame) -> list[date]:
    calendar = plant.timeline.calendar
    wanted = [date.fromisoformat(text) if text else None for text in rows["wanted_day"]]
    received = [datetime.fromisoformat(text) for text in rows["received_at"]]
    return [calendar.due_day(instant, day) for instant, day in zip(received, wanted, strict=True)]


def test_orders_per_ship_day_are_those_of_a_small_plant(plant: DemoPlant, rows: pd.DataFrame) -> None:
    ship_days = sum(day <= plant.timeline.last_day for day in plant.timeline.ship_days)
    assert 35 <= rows["order"].nunique() / ship_days <= 60


def test_most_skus_sell_intermittently_and_a_few_daily(
    plant: DemoPlant, regular: pd.DataFrame, skus: pd.DataFrame
) -> None:
    ship_days = sum(day <= plant.timeline.last_day for day in plant.timeline.ship_days)
    sold = regular.groupby("sku")["shipped_day"].nunique() / ship_days
    share = sold.reindex(skus["code"], fill_value=0.0)
    assert 0.15 <= share.median() <= 0.25
    assert 3 <= (share > 0.6).sum() <= 40


def test_mondays_ship_most_and_fridays_least(plant: DemoPlant, regular: pd.DataFrame) -> None:
    orders = regular.drop_duplicates("order")
    orders = orders[orders["wanted_day"] == ""]
    due = pd.Series([day.weekday() for day in due_days(plant, orders)])
    share = due.value_counts(normalize=True)
    assert share[0] > 1.25 * share[2]
    assert share[4] < share[1]


def test_outdoor_material_peaks_in_spring(regular: pd.DataFrame) -> None:
    month = regular["local"].dt.month
    share = (regular["filament_material"] == "ASA").groupby(month).mean()
    assert share[[3, 4, 5]].mean() > 1.6 * share[[9, 10, 11]].mean()


def test_launched_filaments_sell_from_their_first_day_on_and_fast_at_first(
    plant: DemoPlant, regular: pd.DataFrame
) -> None:
    launched = regular[regular["filament"].isin(LAUNCHES)]
    age_days = (launched["day"] - pd.to_datetime(launched["active_from"])).dt.days
    assert set(launched["filament"]) == set(LAUNCHES)
    assert age_days.min() >= 0
    # Of all that were launched at least 26 weeks before the end: lines a week at first, and later.
    settled = age_days[launched["filament"].map(LAUNCHES) >= 26]
    first = (settled < 28).sum() / 4
    later = settled.between(84, 181).sum() / 14
    assert first > 1.2 * later


def test_retired_colour_sells_nothing_after_its_last_day(regular: pd.DataFrame) -> None:
    retired = regular[regular["filament_colour"] == RETIRED]
    last_days = pd.to_datetime(retired["active_to"])
    assert len(retired) > 200
    assert (retired["day"] <= last_days).all()
    assert (last_days - retired["day"].max()).dt.days.max() < 21


def test_only_retired_goods_have_a_last_day_on_sale(plant: DemoPlant, skus: pd.DataFrame) -> None:
    with_end = set(skus.loc[skus["active_to"] != "", "filament"])
    filaments = plant.tables["filaments.csv"]
    assert with_end == set(filaments.loc[filaments["colour"] == RETIRED, "code"])


def test_stock_out_hides_three_weeks_of_demand_of_hiding_channels_only(plant: DemoPlant, regular: pd.DataFrame) -> None:
    channels = plant.tables["channels.csv"].set_index("code")["hides_unavailable"]
    sold = regular[regular["sku"] == STOCK_OUT_SKU]
    hiding = sold[sold["channel"].map(channels) == "yes"]
    gaps = hiding["day"].drop_duplicates().sort_values().diff().dt.days
    begin, end = hiding["day"].drop_duplicates().sort_values().shift(1)[gaps.idxmax()], hiding["day"][gaps.idxmax()]
    others = sold[(sold["day"] > begin) & (sold["day"] < end) & (sold["channel"].map(channels) == "no")]
    assert 20 < gaps.max() < 28
    assert gaps.drop(gaps.idxmax()).max() < 12
    assert (pd.to_datetime(others["shipped_day"]) > pd.Timestamp(end) - pd.Timedelta(days=3)).all()
    assert len(others) > 0


def test_one_project_order_is_larger_than_any_other(rows: pd.DataFrame, plant: DemoPlant) -> None:
    sizes = plant.tables["spool_sizes.csv"].set_index("code")["net_g"]
    kg = (rows["quantity"] * rows["spool_size"].map(sizes) / 1000).groupby([rows["kind"], rows["order"]]).sum()
    assert len(kg["project"]) == 1
    assert kg["project"].max() > 400
    assert kg["project"].max() > 1.5 * kg["regular"].max()


def test_baskets_have_one_to_six_lines_and_name_a_sku_once(rows: pd.DataFrame) -> None:
    sizes = rows.groupby("order").size()
    assert set(sizes) == {1, 2, 3, 4, 5, 6}
    assert not rows.duplicated(["order", "sku"]).any()
    assert (rows.groupby("order")["line_no"].max() == sizes).all()


def test_some_combinations_are_bought_together_far_more_often_than_chance(regular: pd.DataFrame) -> None:
    baskets = regular.groupby("order")["sku"].agg(set)
    single = Counter(sku for basket in baskets for sku in basket)
    pairs = Counter(pair for basket in baskets for pair in combinations(sorted(basket), 2))
    lift = [count * len(baskets) / (single[a] * single[b]) for (a, b), count in pairs.items() if count >= 20]
    assert sum(value > 5 for value in lift) >= 15


def test_due_days_of_the_generator_are_those_of_the_calendar(plant: DemoPlant, rows: pd.DataFrame) -> None:
    # Two ways to the same days: arithmetic over all orders at once, and the plant's calendar one by one.
    some = rows[(rows["kind"] == "regular") & (rows["shipped_day"] != "")].drop_duplicates("order").iloc[::40]
    late_days = [
        np.busday_count(due, date.fromisoformat(shipped))
        for due, shipped in zip(due_days(plant, some), some["shipped_day"], strict=True)
    ]
    assert min(late_days) == 0
    assert 0.005 < np.mean(np.array(late_days) > 0) < 0.12


def test_an_order_at_the_cut_off_is_due_on_the_next_ship_day(plant: DemoPlant) -> None:
    monday = (date(2026, 3, 2) - plant.timeline.first_day).days
    orders = pd.DataFrame({"day": monday, "minute": [13 * 60 + 39, 13 * 60 + 40], "wanted_after_days": 0})
    due = [plant.timeline.ship_days[n] for n in due_positions(orders, timeline=plant.timeline)]
    assert due == [date(2026, 3, 2), date(2026, 3, 3)]


def test_orders_that_may_not_leave_in_parts_leave_whole(rows: pd.DataFrame) -> None:
    whole = rows[rows["may_part_ship"] == "no"]
    assert whole.groupby("order")["shipped_day"].nunique().max() == 1
    assert 0.2 < rows.drop_duplicates("order")["may_part_ship"].eq("no").mean() < 0.6


def test_a_few_orders_are_late_and_open_on_the_last_day(plant: DemoPlant, rows: pd.DataFrame) -> None:
    still_open = rows[(rows["shipped_day"] == "") & (rows["cancelled_by"] == "")]
    first_lines = still_open.drop_duplicates("order")
    late = [day <= plant.timeline.last_day for day in due_days(plant, first_lines)]
    assert 3 <= sum(late) <= 25
    assert len(late) - sum(late) >= 20
    late_orders = first_lines.loc[late, "order"]
    is_short = still_open["filament"].isin(SHORT_FILAMENTS).groupby(still_open["order"]).any()
    assert is_short[late_orders].mean() > 0.5
