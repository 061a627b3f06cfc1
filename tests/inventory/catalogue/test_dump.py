"""Dumping a plant: the round trip is equal byte for byte, and what was booked since comes out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.errors import NotFoundError
from inventory.models import Order, OrderLine
from inventory.plant_files.dump import FilesInTheWayError, dump_plant
from inventory.plant_files.load import LoadReport, load_plant
from inventory.rules.clock import Clock
from inventory.services.carts import put_on_cart
from inventory.services.counts import post_count
from inventory.services.orders import amend_order, cancel_order
from inventory.services.shipments import ship_order
from tests.inventory.catalogue.conftest import MONDAY
from tests.inventory.plant_dir import SMALL_PLANT

pytestmark = pytest.mark.django_db


def texts(directory: Path) -> dict[str, str]:
    return {path.name: path.read_bytes().decode() for path in sorted(directory.iterdir())}


def reload(directory: Path, *, as_of: datetime) -> None:
    # TRUNCATE on PostgreSQL, DELETE on SQLite: the books forbid deleting row by row.
    call_command("flush", interactive=False, verbosity=0)
    load_plant(directory, as_of=as_of)


def row_of(directory: Path, file: str, start: str) -> str:
    [row] = [line for line in (directory / file).read_text(encoding="utf-8").splitlines() if line.startswith(start)]
    return row


def test_dump_plant_writes_what_was_loaded_byte_for_byte(loaded: LoadReport, tmp_path: Path) -> None:
    dump_plant(tmp_path / "dump")
    assert texts(tmp_path / "dump") == dict(sorted(SMALL_PLANT.items()))


def test_dump_plant_sorts_rows_and_writes_values_one_way(plant_dir: Path, tmp_path: Path) -> None:
    (plant_dir / "channels.csv").write_text(
        "name,hides_unavailable,code\nOwn use of the works,0,WORKS\nWeb shop,TRUE,SHOP\n", encoding="utf-8"
    )
    (plant_dir / "diameters.csv").write_text("nominal_mm,tolerance_mm\n1.750,0.030\n", encoding="utf-8")
    load_plant(plant_dir, as_of=MONDAY)
    dump_plant(tmp_path / "dump")
    assert texts(tmp_path / "dump") == dict(sorted(SMALL_PLANT.items()))


@pytest.mark.django_db(transaction=True)
def test_dump_after_operation_loads_to_the_same_dump(loaded: LoadReport, tmp_path: Path) -> None:
    tuesday = MONDAY + timedelta(days=1)
    ship_order(order_id=Order.objects.get(reference="1004").pk, clock=Clock.at(MONDAY))
    project = Order.objects.get(reference="1005")
    ship_order(order_id=project.pk, lines={1: 3}, clock=Clock.at(MONDAY))
    cancel_order(order_id=project.pk, by="customer", clock=Clock.at(tuesday))
    dump_plant(tmp_path / "first")
    reload(tmp_path / "first", as_of=tuesday)
    dump_plant(tmp_path / "second")
    assert texts(tmp_path / "second") == texts(tmp_path / "first")


def test_dump_after_operation_tells_stock_and_outcome_as_they_are(loaded: LoadReport, tmp_path: Path) -> None:
    ship_order(order_id=Order.objects.get(reference="1004").pk, clock=Clock.at(MONDAY))
    project = Order.objects.get(reference="1005")
    ship_order(order_id=project.pk, lines={1: 3}, clock=Clock.at(MONDAY))
    cancel_order(order_id=project.pk, by="customer", clock=Clock.at(MONDAY + timedelta(hours=1)))
    dump_plant(tmp_path / "dump")
    # 1004 took 4 of 5 snow; 1005 took 3 stone of the oldest lot, which held 12.
    assert row_of(tmp_path / "dump", "opening_stock.csv", "PLA-SNOW-175-1000,shelf").endswith("S-5003,,1")
    assert row_of(tmp_path / "dump", "opening_stock.csv", "PLA-STONE-175-1000,shelf,S-5001").endswith(",9")
    assert ",4,,2027-03-01,,," in row_of(tmp_path / "dump", "orders.csv", "SHOP,1004")
    # 15 ordered, 5 gone before the books opened and 3 since; the rest the customer cancelled at 08:00 UTC.
    assert row_of(tmp_path / "dump", "orders.csv", "SHOP,1005").endswith(",15,8,,customer,2027-03-01T08:00:00Z,")


@pytest.mark.django_db(transaction=True)
def test_dump_keeps_the_due_day_when_the_customer_has_asked_for_another_day(loaded: LoadReport, tmp_path: Path) -> None:
    project = Order.objects.get(reference="1005")
    wanted = project.due_day + timedelta(days=7)
    amend_order(order_id=project.pk, wanted_day=wanted, clock=Clock.at(MONDAY))
    dump_plant(tmp_path / "dump")
    assert ",2027-03-19,2027-03-12,yes," in row_of(tmp_path / "dump", "orders.csv", "SHOP,1005")
    reload(tmp_path / "dump", as_of=MONDAY)
    assert Order.objects.get(reference="1005").due_day == project.due_day


def test_dump_leaves_out_places_that_are_empty_by_now(loaded: LoadReport, tmp_path: Path) -> None:
    post_count(
        sku_code="PLA-STONE-175-1000",
        place_kind="wound",
        lot_code="S-5004",
        counted=Decimal(0),
        clock=Clock.at(MONDAY),
        reason="not found",
    )
    dump_plant(tmp_path / "dump")
    stock = (tmp_path / "dump" / "opening_stock.csv").read_text(encoding="utf-8")
    assert "S-5004" not in stock
    assert "S-5005" in stock


def test_dump_says_what_the_files_cannot_hold(loaded: LoadReport, tmp_path: Path) -> None:
    out = StringIO()
    call_command("dump_plant", tmp_path / "dump", stdout=out)
    assert "Movements, shipments and allocations are not part of the files" in out.getvalue()


def test_dump_says_that_carts_go_out_empty(loaded: LoadReport, tmp_path: Path) -> None:
    put_on_cart(cart_code="CART-1", spools={"S-5004": 4})
    report = dump_plant(tmp_path / "dump")
    assert (tmp_path / "dump" / "carts.csv").read_text(encoding="utf-8") == SMALL_PLANT["carts.csv"]
    assert "Carts go out empty: what stands on 1 of them lies where the books have it." in report.left_out


def test_dump_plant_refuses_a_folder_that_holds_a_plant(loaded: LoadReport, plant_dir: Path) -> None:
    before = texts(plant_dir)
    with pytest.raises(FilesInTheWayError, match=r"parameters\.csv is there already"):
        dump_plant(plant_dir)
    assert texts(plant_dir) == before


def test_dump_plant_without_a_plant_is_refused(tmp_path: Path, db: None) -> None:
    with pytest.raises(NotFoundError, match="No plant is loaded"):
        dump_plant(tmp_path / "dump")
    assert not (tmp_path / "dump").exists()


def test_dump_plant_costs_the_same_queries_for_more_orders(loaded: LoadReport, tmp_path: Path) -> None:
    with CaptureQueriesContext(
        connection,
    ) as few:
        dump_plant(tmp_path / "few")
    line = OrderLine.objects.select_related("order").get(order__reference="1002")
    for number in range(20):
        line.order.pk, line.order.reference = None, f"copy {number}"
        line.order.save(force_insert=True)
        OrderLine.objects.create(
            order=line.order,
            line_no=1,
            sku=line.sku,
            quantity=3,
            shipped=3,
            shipped_complete_day=line.shipped_complete_day,
        )
    with CaptureQueriesContext(connection) as many:
        dump_plant(tmp_path / "many")
    assert len(many) == len(few)


def test_dump_of_a_plant_without_orders_has_only_the_header(plant_dir: Path, tmp_path: Path) -> None:
    (plant_dir / "orders.csv").unlink()
    load_plant(plant_dir, as_of=datetime(2027, 3, 1, 7, tzinfo=UTC))
    dump_plant(tmp_path / "dump")
    assert texts(tmp_path / "dump")["orders.csv"] == SMALL_PLANT["orders.csv"].splitlines()[0] + "\n"
