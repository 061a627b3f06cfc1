"""Tables of the pages as CSV: which there are, who may have them, what their cells say."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from io import StringIO
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import DiameterReport, Place, Run, RunStop
from inventory.rules.clock import Clock
from inventory.selectors.plant import parameters
from inventory.services.carts import put_on_cart
from inventory.services.quality import post_diameters
from inventory.services.run_stops import stop_run
from inventory.services.runs import start_run
from stockplan.planner.models import MakeList
from stockplan.planner.pages.tables import TABLES
from stockplan.planner.services.announcements import announce_demand
from stockplan.planner.services.make_lists import compute_make_list
from tests.pages.shown_plant import ShownPlant, open_at

LogIn = Callable[[str], Client]
BLACK = "PLA-BLACK-1000"
PAGES = {
    "stock": "/admin/stock/", "due": "/admin/due/", "make-list": "/admin/make-list/", "left-out": "/admin/make-list/",
    "forecast": "/admin/forecast/", "replays": "/admin/replays/", "run-cards": "/admin/run-cards/",
    "stops": "/admin/line/L1/", "ovens": "/admin/ovens/", "store": "/admin/store/", "sku": f"/admin/skus/{BLACK}/",
    "weeks": "/admin/owner/", "misses": "/admin/owner/", "shelf": "/admin/owner/shelf/",
    "shelf-worth": "/admin/owner/shelf-worth/", "line-hours": "/admin/owner/",
    "to-buy": "/admin/owner/", "changes": "/admin/make-list/changed/", "learned": "/admin/learned/",
    "purchases": "/admin/purchases/", "announced": "/admin/forecast/announced/",
    "sizes": "/admin/filaments/PLA-BLACK-1.75/",
    "promises": "/admin/orders/{order}/", "subgroups": "/admin/run-cards/{run}/quality/",
    "due-order": "/admin/due/{order}/", "cart": "/admin/carts/CART-1/", "run-card": "/admin/run-cards/{run}/",
    "changeover-steps": "/admin/run-cards/{run}/",
    "set-aside": "/admin/store/",
    "next-counts": "/admin/counts/", "count-accuracy": "/admin/counts/", "count-sheet": "/admin/counts/{sheet}/",
}  # fmt: skip
# What a table of one record asks for.
ASKED = {
    **dict.fromkeys((name for name in TABLES if name.startswith("trace-")), "?run={run}"),
    "sku": f"?code={BLACK}", "sizes": "?code=PLA-BLACK-1.75", "promises": "?order={order}", "subgroups": "?code={run}",
    "due-order": "?order={order}", "cart": "?code=CART-1", "run-card": "?code={run}",
    "changeover-steps": "?code={run}", "count-sheet": "?code={sheet}",
    "what-if": "?change=forbid&forbid-filament=PLA-BLACK-1.75",
}  # fmt: skip


def rows(client: Client, name: str, **asked: str) -> list[dict[str, str]]:
    answer = client.get(f"/admin/tables/{name}.csv", asked)
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/csv; charset=utf-8")
    return list(csv.DictReader(StringIO(answer.text), strict=True))


def address(shown: ShownPlant, name: str) -> str:
    return f"/admin/tables/{name}.csv" + shown.fill_in(ASKED.get(name, ""))


def fill_tables(shown: ShownPlant) -> None:
    """A run that stands and was measured, two wound spools on a cart, and a list of yesterday without rows."""
    open_at(Place.Kind.WOUND, shown.tiny.black_1kg, lot_code="LOT-WOUND", spools=2, now=timezone.now())
    put_on_cart(cart_code="CART-1", spools={"LOT-WOUND": 2})
    run_that_stands(shown)
    readings = [(Decimal("1.75") + Decimal(n) / 1000, None) for n in range(10)]
    hand, clock = DiameterReport.Source.HAND, Clock.at(timezone.now())
    post_diameters(run_code=shown.run.code, readings=readings, source=hand, clock=clock)
    older = MakeList.objects.get()
    older.pk, older._state.adding = uuid4(), True
    older.as_of -= timedelta(days=1)
    older.created_at -= timedelta(days=1)
    older.save()


def run_that_stands(shown: ShownPlant) -> None:
    Run.objects.update(drying_from=timezone.now() - timedelta(hours=20))
    start_run(run_code=shown.run.code, clock=Clock.at(timezone.now()))
    stop_run(run_code=shown.run.code, reason="screen", note="=1+1", clock=Clock.at(timezone.now()))


@pytest.mark.parametrize("name", TABLES)
def test_table_has_rows_as_wide_as_its_head(shown: ShownPlant, logged_in: LogIn, name: str) -> None:
    client = logged_in("owner")
    fill_tables(shown)
    head, *found = csv.reader(StringIO(client.get(address(shown, name)).text))
    assert tuple(head) == TABLES[name].heads
    assert {len(row) for row in found} <= {len(head)}


@pytest.mark.parametrize("name", PAGES)
def test_page_of_a_table_leads_to_it(shown: ShownPlant, logged_in: LogIn, name: str) -> None:
    fill_tables(shown)
    assert f'href="{address(shown, name)}' in logged_in("owner").get(shown.fill_in(PAGES[name])).text


@pytest.mark.parametrize("name", PAGES)
def test_table_asks_for_the_permission_of_its_page(shown: ShownPlant, logged_in: LogIn, name: str) -> None:
    client = logged_in("sales")
    statuses = [client.get(path).status_code for path in (address(shown, name), shown.fill_in(PAGES[name]))]
    assert statuses[0] == statuses[1]


def test_every_table_but_that_of_a_what_if_is_led_to_from_a_page(shown: ShownPlant) -> None:
    # Those of a trace are in test_trace_page.py, where something was wound and shipped.
    assert {name for name in TABLES.keys() - PAGES.keys() if not name.startswith("trace-")} == {"what-if"}


def test_page_of_a_what_if_leads_to_its_list_as_csv(shown: ShownPlant, logged_in: LogIn) -> None:
    now = timezone.now()
    compute_make_list(as_of=now, now=now, days=5)
    client = logged_in("planner")
    answer = client.post("/admin/make-list/what-if/forbid/", {"forbid-filament": "PLA-BLACK-1.75"})
    assert f'href="{address(shown, "what-if").replace("&", "&amp;")}"' in answer.text
    found = rows(client, "what-if", **{"change": "forbid", "forbid-filament": "PLA-BLACK-1.75"})
    assert [(row["rank"], row["filament"]) for row in found] == [
        (str(run.rank), run.filament) for run in answer.context["found"].runs
    ]
    assert logged_in("sales").get(address(shown, "what-if")).status_code == 403


def test_lines_of_an_order_to_pack_go_out_as_those_due(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("floor")
    found = rows(client, "due-order", order=str(shown.order_id))
    assert found == [row for row in rows(client, "due") if row["reference"] == "DUE-1"]
    assert [row["sku"] for row in found] == [BLACK, "PLA-RUBY-1000"]


def test_spools_on_a_cart_go_out_with_their_lots(shown: ShownPlant, logged_in: LogIn) -> None:
    fill_tables(shown)
    assert [(row["cart"], row["load"], row["lot"], row["sku"], row["spools"]) for row in rows(
        logged_in("floor"), "cart", code="CART-1"
    )] == [("CART-1", "", "LOT-WOUND", BLACK, "2")]  # fmt: skip


def test_sizes_of_a_run_card_go_out_with_their_masses(shown: ShownPlant, logged_in: LogIn) -> None:
    [row] = rows(logged_in("floor"), "run-card", code=shown.run.code)
    assert (row["sku"], row["spools"], row["net_g"]) == ("PETG-NAT-1000", "6", "1000")
    assert int(row["with_empty_spool_g"]) > int(row["target_g"]) >= 1000


def test_stops_go_out_in_the_time_of_the_plant(shown: ShownPlant, logged_in: LogIn) -> None:
    run_that_stands(shown)
    zone = ZoneInfo(parameters().time_zone)
    [row] = rows(logged_in("floor"), "stops")
    stopped = RunStop.objects.get().stopped_at.astimezone(zone)
    assert row["stopped_at"] == stopped.isoformat(timespec="minutes")


def test_stranger_is_led_to_the_log_in(shown: ShownPlant, client: Client) -> None:
    assert client.get("/admin/tables/stock.csv")["Location"].startswith("/admin/login/")


def test_stock_table_says_what_is_free(shown: ShownPlant, logged_in: LogIn) -> None:
    [black] = [row for row in rows(logged_in("sales"), "stock") if row["sku"] == BLACK]
    # Ten lie there, two belong to an order.
    assert (black["on_shelf"], black["allocated"], black["free"]) == ("10", "2", "8")


def test_due_table_says_what_nothing_is_planned_for(shown: ShownPlant, logged_in: LogIn) -> None:
    found = {row["sku"]: row for row in rows(logged_in("floor"), "due")}
    assert (found[BLACK]["on_shelf"], found["PLA-RUBY-1000"]["not_planned"]) == ("2", "1")


def test_list_table_has_its_runs_by_rank(shown: ShownPlant, logged_in: LogIn) -> None:
    found = rows(logged_in("planner"), "make-list")
    assert [(row["rank"], row["line"], row["is_blocked"]) for row in found] == [
        ("1", "L1", "False"), ("2", "L1", "False"), ("3", "", "True"),
    ]  # fmt: skip
    assert "MB-RUBY" in found[2]["missing"]


def test_stop_table_guards_what_somebody_typed(shown: ShownPlant, logged_in: LogIn) -> None:
    # CWE-1236: a quote before the sign makes it text.
    run_that_stands(shown)
    assert [(row["reason"], row["note"]) for row in rows(logged_in("floor"), "stops")] == [("screen", "'=1+1")]


def test_projection_of_a_sku_goes_out_day_by_day(shown: ShownPlant, logged_in: LogIn) -> None:
    now = timezone.now()
    compute_make_list(as_of=now, now=now, days=5)
    found = rows(logged_in("planner"), "sku", code=BLACK)
    assert float(found[0]["low_5"]) <= float(found[0]["middle"]) <= float(found[0]["high_95"])


def test_stored_purchases_go_out_by_day(shown: ShownPlant, logged_in: LogIn) -> None:
    found = rows(logged_in("owner"), "purchases")
    assert [(row["item"], row["buy"], row["unit"]) for row in found] == [
        ("RESIN-PLA", "1500.0", "kg"), ("BOX-1", "300.0", "pieces"),
    ]  # fmt: skip
    assert found[0]["buy_by"] < found[1]["buy_by"]


def test_changes_say_against_which_list_and_why(shown: ShownPlant, logged_in: LogIn) -> None:
    fill_tables(shown)
    found = rows(logged_in("planner"), "changes")
    # The list of yesterday had no runs: both that have a place are new.
    assert [row["what"].split()[1].rstrip(",:") for row in found] == ["PLA-BLACK-1.75", "PETG-NATURAL-1.75"]
    before = MakeList.objects.earliest("as_of").as_of.replace(second=0, microsecond=0)
    assert {datetime.fromisoformat(row["list_before"]) for row in found} == {before}


def test_promises_of_an_order_go_out_line_by_line(shown: ShownPlant, logged_in: LogIn) -> None:
    found = rows(logged_in("sales"), "promises", order=str(shown.order_id))
    assert [(row["sku"], row["spools"], row["from_shelf"], row["unpromised"]) for row in found] == [
        (BLACK, "2", "2", "0"), ("PLA-RUBY-1000", "1", "0", "1"),
    ]  # fmt: skip


def test_subgroups_of_a_run_go_out_with_mean_and_range(shown: ShownPlant, logged_in: LogIn) -> None:
    fill_tables(shown)
    found = rows(logged_in("floor"), "subgroups", code=shown.run.code)
    # Readings of 1.750 to 1.759 in steps of 0.001, five each: means 1.752 and 1.757, ranges 0.004 by hand.
    assert [(round(float(row["mean_mm"]), 6), round(float(row["range_mm"]), 6)) for row in found] == [
        (1.752, 0.004), (1.757, 0.004),
    ]  # fmt: skip


def test_what_is_announced_goes_out_with_its_factor(shown: ShownPlant, logged_in: LogIn) -> None:
    day = timezone.localdate()
    clock = Clock.at(timezone.now())
    announce_demand(name="Fair", first_day=day, last_day=day, factor=Decimal("1.5"), clock=clock)
    [row] = rows(logged_in("planner"), "announced")
    assert (row["name"], row["first_day"], float(row["times_the_usual"])) == ("Fair", day.isoformat(), 1.5)


@pytest.mark.parametrize(
    ("name", "asked"),
    [
        ("sku", {"code": "NONE"}),
        ("sku", {}),
        ("secrets", {}),
        ("sizes", {"code": "NONE"}),
        ("promises", {"order": "12x"}),
        ("promises", {"order": "9" * 30}),
        ("promises", {"order": "9" * 4_301}),
        ("promises", {}),
        ("subgroups", {"code": "NONE"}),
        ("cart", {"code": "NONE"}),
        ("run-card", {"code": "NONE"}),
        ("due-order", {"order": "12345"}),
        ("due-order", {}),
    ],
)
def test_table_that_is_not_there_is_not_found(
    shown: ShownPlant, logged_in: LogIn, name: str, asked: dict[str, str]
) -> None:
    assert logged_in("owner").get(f"/admin/tables/{name}.csv", asked).status_code == 404


def test_list_table_without_a_list_is_not_found(shown: ShownPlant, logged_in: LogIn) -> None:
    MakeList.objects.all().delete()
    assert logged_in("planner").get("/admin/tables/make-list.csv").status_code == 404


def test_advice_on_purchases_goes_out_as_csv(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("planner")
    assert client.post("/admin/purchases/advise/").status_code == 200
    answer = client.get("/admin/tables/purchases.csv")
    assert answer["Content-Disposition"] == 'attachment; filename="purchases.csv"'
    assert answer.text.startswith("buy_by,item,name,buy,")


def test_missed_lines_are_those_asked_for(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("owner")
    of_ruby = client.get("/admin/owner/misses/", {"sku": "PLA-RUBY-1000"}).context["found"]
    assert {miss.sku_code for miss in of_ruby} == {"PLA-RUBY-1000"}
    assert list(client.get("/admin/owner/misses/", {"reason": "lost"}).context["found"]) == []
    assert [row["sku"] for row in rows(client, "misses", sku=BLACK)] == [BLACK]


def test_owners_page_adds_up_the_hours_that_a_line_stood(shown: ShownPlant, logged_in: LogIn) -> None:
    client = logged_in("owner")
    run_that_stands(shown)
    now = timezone.now()
    RunStop.objects.update(stopped_at=now - timedelta(minutes=90), went_on_at=now, went_on_known_at=now)
    [lost] = client.get("/admin/owner/").context["lost"]
    assert (lost.reason, lost.stops, round(lost.hours, 3)) == ("screen", 1, 1.5)
    assert "Screen change" in client.get("/admin/owner/stops/", {"reason": "screen"}).text
    assert "Screen change" not in client.get("/admin/owner/stops/", {"reason": "crew"}).text


def test_files_are_refused_in_plain_words_where_no_plant_is_loaded(logged_in: LogIn) -> None:
    client = logged_in("owner")
    for path in (*(f"/admin/tables/{name}.csv" for name in TABLES), "/admin/due/pick-list.pdf"):
        answer = client.get(path)
        assert (answer.status_code, answer["Content-Type"]) == (404, "text/plain; charset=utf-8")
        assert answer.text == "No plant is loaded yet.\n"
