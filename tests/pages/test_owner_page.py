"""The owner's page and its tables as CSV."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import StringIO
from types import SimpleNamespace

import pytest
from django.test import Client

from inventory.models import Item, Sku
from inventory.rules.service import Miss, MissReason
from inventory.selectors.stock_value import StockValueRow, lasts_days
from stockplan.planner.models import ForecastRun, ListedRun
from stockplan.planner.pages import owner
from stockplan.planner.pages.owner import misses_by_sku
from stockplan.planner.selectors.line_load import line_loads
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def miss(sku_code: str, *, wanted: int, in_time: int) -> Miss:
    return Miss(
        order_id=1,
        channel="WEB",
        reference="A",
        line_no=1,
        sku_code=sku_code,
        day=date(2027, 3, 1),
        is_made_to_order=False,
        wanted=wanted,
        in_time=in_time,
        reason=MissReason.NOTHING_PLANNED,
    )


def test_misses_are_added_up_by_sku_the_most_spools_first() -> None:
    rows = misses_by_sku(
        [miss("A", wanted=2, in_time=1), miss("B", wanted=5, in_time=0), miss("A", wanted=3, in_time=1)]
    )
    assert [(row.sku_code, row.lines, row.spools) for row in rows] == [("B", 1, 5), ("A", 2, 3)]


def stock(*, on_shelf: int, value: str, recent_spools: int) -> StockValueRow:
    return StockValueRow("A", "A", "#000000", "PLA", on_shelf, Decimal(value), recent_spools, None)


def test_whole_shelf_lasts_as_long_as_its_value_over_the_value_asked_for_a_day() -> None:
    # 10 spools of 90 lasting 100 days and 10 of 180 lasting 50: 270 / (90 / 100 + 180 / 50) = 60 days.
    rows = [stock(on_shelf=10, value="90", recent_spools=9), stock(on_shelf=10, value="180", recent_spools=18)]
    assert lasts_days(rows) == pytest.approx(60)


def test_stock_that_nobody_asks_for_lasts_for_ever() -> None:
    assert lasts_days([stock(on_shelf=10, value="90", recent_spools=0)]) is None


def test_line_load_adds_up_winding_and_changeovers(shown: ShownPlant) -> None:
    # Two placed runs of 120 min after 12 min of changeover each: 24 of 264 minutes.
    [load] = line_loads()
    assert (load.runs, load.winding_h, load.changeover_h) == (2, 4.0, pytest.approx(0.4))
    assert load.changeover_share == pytest.approx(24 / 264)


def test_page_shows_the_missed_order_with_its_denominator(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("owner").get("/admin/owner/").text
    assert "0 of 1 orders of stocked SKUs" in text
    assert "It was not on the shelf and nothing was planned for it." in text
    assert '<a href="/admin/skus/PLA-RUBY-1000/">PLA-RUBY-1.75 on S1000</a>' in text


def test_figure_of_each_kind_opens_to_its_own_missed_lines(
    shown: ShownPlant, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    stocked = [miss("PLA-RUBY-1000", wanted=3, in_time=1), miss("PLA-RUBY-1000", wanted=4, in_time=1)]
    to_order = replace(miss("PLA-BLACK-1000", wanted=5, in_time=0), is_made_to_order=True, order_id=2)
    monkeypatch.setattr(owner, "service_report", lambda **_: SimpleNamespace(misses=(*stocked, to_order)))
    client = logged_in("owner")
    answer = client.get("/admin/owner/misses/?kind=stocked")
    assert [row.sku_code for row in answer.context["found"]] == ["PLA-RUBY-1000"] * 2
    said = " ".join(re.sub("<.*?>", "", answer.text).split())
    assert "2 lines with 5 spools missed, of 1 order." in said
    rows = client.get("/admin/owner/misses/?kind=made_to_order").context["found"]
    assert [row.sku_code for row in rows] == ["PLA-BLACK-1000"]
    assert 'href="/admin/owner/misses/?kind=made_to_order"' in client.get("/admin/owner/").text


def test_line_hours_open_to_the_runs_that_make_them_up(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("owner")
    assert 'href="/admin/owner/lines/?line=L1"' in client.get("/admin/owner/").text
    shown_page = client.get("/admin/owner/lines/?line=L1").context
    [load], runs = shown_page["loads"], list(shown_page["found"])
    assert len(runs) == load.runs == 2
    assert sum(run.run_min for run in runs) == pytest.approx(60 * load.winding_h)
    assert sum(run.changeover_min for run in runs) == pytest.approx(60 * load.changeover_h)
    assert sum(run.purge_kg for run in runs) == pytest.approx(load.purge_kg)


def test_stock_is_shown_in_value_and_days(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("owner")
    [days] = re.findall(r"(\d+) days of demand by value", client.get("/admin/owner/").text)
    assert int(days) == round(client.get("/admin/owner/shelf/").context["lasts_days"])


@pytest.mark.parametrize("name", ["weeks", "misses", "shelf"])
def test_table_goes_out_as_csv_with_a_head(shown: ShownPlant, logged_in: LogIn, name: str) -> None:
    answer = logged_in("owner").get(f"/admin/tables/{name}.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    head, *rows = csv.reader(StringIO(answer.text))
    assert rows
    assert {len(row) for row in rows} == {len(head)}


def test_csv_holds_no_formula(shown: ShownPlant, logged_in: LogIn) -> None:
    # CWE-1236: a quote before the sign makes it text.
    Item.objects.filter(code="PLA-BLACK-1000").update(name="=1+1")
    rows = list(csv.DictReader(StringIO(logged_in("owner").get("/admin/tables/shelf.csv").text)))
    assert [row["name"] for row in rows if row["sku"] == "PLA-BLACK-1000"] == ["'=1+1"]


def test_csv_of_the_stock_has_value_and_spools(shown: ShownPlant, logged_in: LogIn) -> None:
    # Ten black kilogram spools at 9.00.
    assert Sku.objects.get(item__code="PLA-BLACK-1000").value == Decimal("9.00")
    rows = list(csv.DictReader(StringIO(logged_in("owner").get("/admin/tables/shelf.csv").text)))
    assert [(row["on_shelf"], row["value"]) for row in rows] == [("10", "90.00")]


def test_unknown_table_is_not_found(shown: ShownPlant, logged_in: LogIn) -> None:
    assert logged_in("owner").get("/admin/tables/secrets.csv").status_code == 404


@pytest.mark.parametrize("role", ["sales", "planner", "floor"])
def test_page_and_tables_are_the_owners_alone(shown: ShownPlant, logged_in: LogIn, role: str) -> None:
    client = logged_in(role)
    assert {client.get(path).status_code for path in ("/admin/owner/", "/admin/tables/shelf.csv")} == {403}


def test_owner_is_told_where_a_list_without_runs_leaves_the_lines(shown: ShownPlant, logged_in: LogIn) -> None:
    ListedRun.objects.filter(is_blocked=False).delete()
    section = logged_in("owner").get("/admin/owner/").text.split('<h2 id="lines">')[1].split("<h2")[0]
    assert "No run of the newest make list is on a line." in section
    assert "There is no make list yet" not in section


@pytest.mark.parametrize(("loss", "said"), [(0.40, "20.0% better"), (0.60, "20.0% worse")])
def test_owner_is_told_how_much_better_or_worse_the_forecast_is_than_what(
    shown: ShownPlant, logged_in: LogIn, loss: float, said: str
) -> None:
    # Of the plain method's loss of 0.50: 0.10 less or more.
    run = ForecastRun.objects.get()
    run.benchmarks = [{**row, "loss": loss if row["method"] == "chosen" else row["loss"]} for row in run.benchmarks]
    run.save()
    text = logged_in("owner").get("/admin/owner/").text
    assert f'<a href="/admin/forecast/">{said}</a> <small>than this rule: ' in text
    assert f"{loss:.3f} by the forecast, 0.500 by the rule." in text


def test_exchange_curve_shows_where_the_plant_stands(shown: ShownPlant, logged_in: LogIn) -> None:
    context = logged_in("owner").get("/admin/owner/").context
    # Ten black spools at 9.00 lie there; the only order that was due did not ship.
    assert context["exchange"].drawn["lines"][-1] == {"name": "the plant itself", "points": [[90, 0.0]]}


def test_purchase_calendar_sums_what_blocked_runs_lack(shown: ShownPlant, logged_in: LogIn) -> None:
    [row] = logged_in("owner").get("/admin/owner/").context["purchases"]
    assert (row.item_code, row.quantity, row.unit, row.runs) == ("MB-RUBY", 4.5, "kg", 1)
