"""Loading a plant: what enters the books. Figures by hand from the small plant's files."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from inventory.errors import InvalidInputError
from inventory.models import (
    Allocation,
    Balance,
    Colour,
    Lot,
    Movement,
    Order,
    OrderLine,
    OrderLineChange,
    OvenLoad,
    PlantParameters,
    ShelfStock,
    Sku,
)
from inventory.plant_files.load import LoadReport, PlantNotEmptyError, load_plant
from tests.inventory.catalogue.conftest import MONDAY
from tests.inventory.catalogue.loading import assert_nothing_loaded
from tests.inventory.plant_dir import replace_in

pytestmark = pytest.mark.django_db


def test_load_plant_counts_what_it_read(loaded: LoadReport) -> None:
    assert loaded.rows["skus.csv"] == 3 == Sku.objects.count()
    assert loaded.rows["orders.csv"] == 7 == OrderLine.objects.count()
    assert (loaded.orders.orders, loaded.orders.open_lines, loaded.missing) == (6, 2, ())


def test_load_plant_posts_opening_stock_as_movements_at_the_instant(loaded: LoadReport) -> None:
    movement = Movement.objects.get()
    assert (movement.kind, movement.occurred_at, movement.known_at) == ("opening", MONDAY, MONDAY)
    assert movement.lines.count() == 13
    resin = Balance.objects.filter(item__code="RESIN-PLA", place__kind="resin_store")
    assert sorted(row.quantity for row in resin) == [Decimal("771.125"), Decimal(900)]


def test_load_plant_fills_the_shelf_from_shelf_lots_only(loaded: LoadReport) -> None:
    shelf = {row.sku.item.code: row.on_shelf for row in ShelfStock.objects.select_related("sku__item")}
    # 12 + 8 of stone; snow has 5 there and 2 on hold; stone's 4 wound spools are not on the shelf.
    assert shelf["PLA-STONE-175-1000"] == 20
    assert shelf["PLA-SNOW-175-1000"] == 5


def test_load_plant_holds_lots_that_lie_on_hold(loaded: LoadReport) -> None:
    assert list(Lot.objects.filter(is_held=True).values_list("code", flat=True)) == ["S-5005"]


def test_load_plant_promises_open_orders_from_the_shelf(loaded: LoadReport) -> None:
    lines = {
        line.order.reference: line for line in OrderLine.objects.filter(order__state="open").select_related("order")
    }
    # 1004 arrived on Friday 15:05 local, after the cut-off 13:40: due on Monday 1 March, 4 of the 5 on the shelf.
    assert (lines["1004"].order.due_day, lines["1004"].promised_day) == (date(2027, 3, 1), date(2027, 3, 1))
    # 1005 wants 12 March, a Friday; 10 of 15 are left of it.
    assert (lines["1005"].order.due_day, lines["1005"].promised_day) == (date(2027, 3, 12), date(2027, 3, 12))
    allocated = dict(Allocation.objects.filter(end="").values_list("order_line__order__reference", "quantity"))
    assert allocated == {"1004": 4, "1005": 10}
    assert ShelfStock.objects.get(sku__item__code="PLA-STONE-175-1000").free == 10


def test_load_plant_promises_in_the_order_of_arrival(plant_dir: Path) -> None:
    # 1006 arrived later but is due earlier than 1005: with 12 on the shelf it gets what 1005 leaves.
    replace_in(plant_dir / "opening_stock.csv", "PLA-STONE-175-1000,shelf,S-5002,,8\n", "")
    with (plant_dir / "orders.csv").open("a", encoding="utf-8") as file:
        file.write("SHOP,1006,regular,2027-02-26T16:00:00Z,,,yes,,1,PLA-STONE-175-1000,3,,,,,\n")
    load_plant(plant_dir, as_of=MONDAY)
    allocated = dict(Allocation.objects.filter(end="").values_list("order_line__order__reference", "quantity"))
    assert (allocated["1005"], allocated["1006"]) == (10, 2)
    assert OrderLine.objects.get(order__reference="1006").promised_day is None


def test_load_plant_takes_history_with_its_outcome(loaded: LoadReport) -> None:
    late = Order.objects.get(reference="1002")
    # 12:40 UTC is 13:40 in Berlin: exactly at the cut-off is late, so due on Tuesday.
    assert (late.due_day, late.is_history, late.state) == (date(2027, 2, 23), True, "shipped")
    # Shipped with the pick-up of 23 February, 16:00 local.
    assert late.closed_at == datetime(2027, 2, 23, 15, tzinfo=UTC)
    assert late.lines.get().shipped_complete_day == date(2027, 2, 23)


def test_load_plant_takes_a_cancelled_order_with_its_quantity_taken_back(loaded: LoadReport) -> None:
    order = Order.objects.get(reference="1003")
    assert (order.state, order.cancelled_by, order.lines.get().quantity) == ("cancelled", "customer", 0)
    changes = OrderLineChange.objects.filter(order_line__order=order).values_list("delta", "reason", "known_at")
    assert list(changes) == [
        (1, "placed", datetime(2027, 2, 25, 10, tzinfo=UTC)),
        (-1, "cancelled_by_customer", datetime(2027, 2, 25, 11, 30, tzinfo=UTC)),
    ]


def test_load_plant_leaves_sound_books(loaded: LoadReport) -> None:
    call_command("check_books")


def test_load_plant_computes_lightness_from_hex_when_it_is_left_empty(plant_dir: Path) -> None:
    replace_in(plant_dir / "colours.csv", "#F4F6F8,96.78", "#FF0000,")
    load_plant(plant_dir, as_of=MONDAY)
    # Red of sRGB has L* 53.24 (well-known triple, from memory).
    assert Colour.objects.get(code="SNOW").lab_l == Decimal("53.24")


def test_load_plant_dries_spools_in_an_oven_anew(plant_dir: Path) -> None:
    replace_in(plant_dir / "opening_stock.csv", "wound,S-5004", "OVEN-1,S-5004")
    load_plant(plant_dir, as_of=MONDAY)
    load = OvenLoad.objects.get()
    # PLA spools dry 6 h; the oven of the small plant stands at 50 deg C.
    assert (load.oven.code, load.temperature_c, load.ready_at) == ("OVEN-1", 50, datetime(2027, 3, 1, 13, tzinfo=UTC))
    assert Balance.objects.get(place__oven__code="OVEN-1").quantity == 4


def test_load_plant_without_instant_opens_at_the_newest_order(plant_dir: Path) -> None:
    assert load_plant(plant_dir, as_of=None).as_of == datetime(2027, 2, 26, 15, tzinfo=UTC)


def test_load_plant_without_instant_and_orders_is_refused(plant_dir: Path) -> None:
    (plant_dir / "orders.csv").unlink()
    with pytest.raises(InvalidInputError, match="give the instant"):
        load_plant(plant_dir, as_of=None)
    assert_nothing_loaded()


def test_load_plant_reports_files_that_may_be_missing(plant_dir: Path) -> None:
    for name in ("orders.csv", "opening_stock.csv", "closures.csv", "changeovers.csv", "hoppers.csv", "dryers.csv"):
        (plant_dir / name).unlink()
    missing = load_plant(plant_dir, as_of=MONDAY).missing
    assert set(missing) == {
        "orders.csv",
        "opening_stock.csv",
        "closures.csv",
        "changeovers.csv",
        "hoppers.csv",
        "dryers.csv",
    }
    assert Movement.objects.count() == 0


def test_load_plant_is_refused_when_the_database_holds_one(loaded: LoadReport, plant_dir: Path) -> None:
    with pytest.raises(PlantNotEmptyError, match="not empty"):
        load_plant(plant_dir, as_of=MONDAY)
    assert PlantParameters.objects.count() == 1


def test_load_plant_reads_what_a_spreadsheet_saves(plant_dir: Path) -> None:
    # Byte order mark, CRLF, TRUE and FALSE.
    path = plant_dir / "channels.csv"
    path.write_bytes(b"\xef\xbb\xbfcode,name,hides_unavailable\r\nSHOP,Shop,TRUE\r\nWORKS,Works,FALSE\r\n")
    load_plant(plant_dir, as_of=MONDAY)
    assert Order.objects.filter(channel__hides_unavailable=True).count() == 5


def test_load_plant_command_refuses_an_instant_without_offset(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no offset"):
        call_command("load_plant", str(tmp_path), "--as-of", "2027-03-01T07:00")
