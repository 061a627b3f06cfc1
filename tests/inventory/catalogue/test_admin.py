"""Admin pages of the books: they answer, cost the same queries for more rows, and are safe to show."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.contrib import admin
from django.contrib.auth.models import User
from django.db import connection, models, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.admin.base import ReadOnlyAdmin, swatch
from inventory.admin.books import LINES_SHOWN
from inventory.models import (
    CountLine,
    CountSheet,
    DiameterReport,
    Item,
    LedgerSeal,
    Line,
    Lot,
    Movement,
    MovementLine,
    Order,
    OrderLine,
    Oven,
    OvenLoad,
    PromiseChange,
    Run,
    RunOutput,
    RunStop,
    Shipment,
    ShipmentLine,
    Sku,
    SpoolWeighing,
    WebhookDelivery,
    WebhookEndpoint,
    WebhookMessage,
)
from inventory.plant_files.load import LoadReport, load_plant
from tests.inventory.catalogue.conftest import MONDAY
from tests.inventory.plant_dir import SMALL_PLANT, write_small_plant

pytestmark = [pytest.mark.django_db]
PAGES = {model: page for model, page in admin.site._registry.items() if model._meta.app_label == "inventory"}
READ_ONLY = [model for model, page in PAGES.items() if isinstance(page, ReadOnlyAdmin)]
NUMBERS = range(20)
# More rows of the small plant, by file.
MORE_ROWS = {
    "items.csv": "CON-X{n},Concentrate x{n},concentrate,kg,14,,",
    "colours.csv": "X{n},Extra {n},#2040{n:02X},30,CON-X{n},0.02",
    "filaments.csv": "PLA-X{n}-175,PLA,X{n},1.75",
    "skus.csv": "PLA-X{n}-175-1000,Extra {n},,PLA-X{n}-175,KG1,yes,9,2026-01-05,,",
    "line_speeds.csv": "L1,PLA-X{n}-175,50,1",
    "changeovers.csv": "L1,PLA-X{n}-175,PLA-SNOW-175,30,5",
    "lines.csv": "LX{n},Line x{n},PLA-X{n}-175,14,15,0.02,0.9,no,yes",
    "ovens.csv": "OVEN-X{n},Oven x{n},80,50",
    "carts.csv": "CART-X{n}",
    "dryers.csv": "DX{n},Dryer x{n}",
    "hoppers.csv": "HX{n},D1,150,yes,20,PLA,",
    "closures.csv": "2028-01-{d:02d},closed",
    "shifts.csv": "LX{n},0,06:00,22:00",
    "channels.csv": "CX{n},Channel x{n},no",
    "opening_stock.csv": "PLA-X{n}-175-1000,shelf,SX-{n},,3",
    "orders.csv": "SHOP,X{n},regular,2027-02-26T16:00:00Z,,,no,,1,PLA-X{n}-175-1000,1,,,,,",
}


def write_wide_plant(path: Path) -> Path:
    write_small_plant(path)
    for name, row in MORE_ROWS.items():
        more = "".join(row.format(n=number, d=number + 1) + "\n" for number in NUMBERS)
        (path / name).write_text(SMALL_PLANT[name] + more, encoding="utf-8")
    return path


def add_books(count: int) -> None:
    """Rows that no plant file holds."""
    line, sku, user = Line.objects.first(), Sku.objects.first(), User.objects.get()
    order_line = OrderLine.objects.first()
    for number in range(count):
        run = Run.objects.create(
            code=f"R{number}",
            filament=sku.filament,
            line=line,
            planned_start=MONDAY,
            planned_end=MONDAY,
            released_at=MONDAY,
            released_known_at=MONDAY,
        )
        RunOutput.objects.create(run=run, sku=sku, planned=1, awaited=1, shelf_at=MONDAY, shelf_day=MONDAY.date())
        Movement.objects.create(kind="count", occurred_at=MONDAY, known_at=MONDAY, posted_by=user, run=run)
        OvenLoad.objects.create(
            code=f"OL{number}",
            oven=Oven.objects.first(),
            loaded_at=MONDAY,
            known_at=MONDAY,
            temperature_c=50,
            hours=6,
            ready_at=MONDAY,
            unloaded_at=MONDAY + timedelta(hours=7),
        )
        sheet = CountSheet.objects.create(code=f"C{number}", tolerance_share=0, opened_at=MONDAY, known_at=MONDAY)
        CountLine.objects.create(sheet=sheet, sku=sku, value_class="A", state="dropped")
        DiameterReport.objects.create(
            run=run,
            source="hand",
            lower_mm="1.72",
            upper_mm="1.78",
            outside_readings=0,
            occurred_at=MONDAY,
            known_at=MONDAY,
            posted_by=user,
        )
        RunStop.objects.create(run=run, reason="screen", stopped_at=MONDAY, stopped_known_at=MONDAY, stopped_by=user)
        SpoolWeighing.objects.create(
            lot=Lot.objects.create(code=f"W{number}", item=sku.item, run=run, created_at=MONDAY),
            gross_g="1250",
            tare_g=250,
            occurred_at=MONDAY,
            known_at=MONDAY,
            posted_by=user,
        )
        PromiseChange.objects.create(order_line=order_line, cause="x", occurred_at=MONDAY, known_at=MONDAY)
        shipment = Shipment.objects.create(
            order=order_line.order, ship_day=MONDAY.date(), shipped_at=MONDAY, known_at=MONDAY
        )
        ShipmentLine.objects.create(shipment=shipment, order_line=order_line, quantity=1)
        LedgerSeal.objects.create(number=number + 1, first_id=1, last_id=1, sealed_at=MONDAY)
        endpoint = WebhookEndpoint.objects.create(name=f"W{number}", url="https://hook.example.org/", created_at=MONDAY)
        message = WebhookMessage.objects.create(code=f"msg_{number}", created_at=MONDAY)
        WebhookDelivery.objects.create(message=message, endpoint=endpoint, next_attempt_at=MONDAY)


def queries_of(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        response = client.get(url)
    assert response.status_code == 200, url
    return len(queries)


def list_queries(client: Client) -> dict[str, int]:
    urls = {model.__name__: reverse(f"admin:inventory_{model._meta.model_name}_changelist") for model in PAGES}
    return {name: queries_of(client, url) for name, url in urls.items()}


def test_every_record_of_the_books_that_people_look_at_has_a_page() -> None:
    inside_others = {
        "Hopper",
        "OrderLine",
        "OrderLineChange",
        "RunOutput",
        "RunPlan",
        "Shift",
        "ShipmentLine",
    }
    # On the page of their run, and on its card.
    inside_others |= {"StepTick"}
    # The page of a run shows its times; the spools of earlier plans are read over the API.
    inside_others |= {"RunOutputPlan"}
    # On the page of their cart.
    inside_others |= {"CartSpools"}
    # Hundreds a run: the report gives their judgement.
    inside_others |= {"DiameterReading"}
    # Nobody has to see what secrets are derived from.
    inside_others |= {"WebhookSecret"}
    # Its line says how it ended.
    inside_others |= {"CountEntry"}
    # What a client that repeats itself is told again: bytes for machines, kept for days.
    inside_others |= {"StoredAnswer"}
    from django.apps import apps

    names = {model.__name__ for model in apps.get_app_config("inventory").get_models()}
    assert names - {model.__name__ for model in PAGES} == inside_others


def test_list_pages_answer_with_the_same_queries_for_more_rows(admin_client: Client, tmp_path: Path) -> None:
    with transaction.atomic():
        load_plant(write_small_plant(tmp_path / "small"), as_of=MONDAY)
        add_books(1)
        few = list_queries(admin_client)
        transaction.set_rollback(True)
    load_plant(write_wide_plant(tmp_path / "wide"), as_of=MONDAY)
    add_books(20)
    assert list_queries(admin_client) == few


@pytest.mark.parametrize("model", list(PAGES), ids=lambda model: model.__name__)
def test_record_page_answers(admin_client: Client, loaded: LoadReport, model: type[models.Model]) -> None:
    add_books(1)
    [record] = PAGES[model].get_queryset(None)[:1]
    url = reverse(f"admin:inventory_{model._meta.model_name}_change", args=[record.pk])
    assert admin_client.get(url).status_code == 200


@pytest.mark.parametrize("model", READ_ONLY, ids=lambda model: model.__name__)
def test_books_cannot_be_added_changed_or_deleted(
    admin_client: Client, loaded: LoadReport, model: type[models.Model]
) -> None:
    add_books(1)
    [record] = model._default_manager.all()[:1]
    name = f"admin:inventory_{model._meta.model_name}"
    assert admin_client.get(reverse(f"{name}_add")).status_code == 403
    assert admin_client.post(reverse(f"{name}_change", args=[record.pk]), {}).status_code == 403
    assert admin_client.post(reverse(f"{name}_delete", args=[record.pk]), {"post": "yes"}).status_code == 403


def test_ledger_lots_orders_and_runs_are_read_only() -> None:
    names = {model.__name__ for model in READ_ONLY}
    assert {"Movement", "Lot", "Balance", "ShelfStock", "Order", "Run", "Shipment", "Allocation"} <= names


def test_movement_of_very_many_lines_leads_to_their_list(admin_client: Client, loaded: LoadReport) -> None:
    movement = Movement.objects.earliest("pk")
    line = movement.lines.all()[0]
    page = reverse("admin:inventory_movement_change", args=[movement.pk])
    lines = reverse("admin:inventory_movementline_changelist") + f"?movement__id__exact={movement.pk}"
    few = admin_client.get(page).text
    assert line.lot.code in few
    assert lines in few
    MovementLine.objects.bulk_create(
        MovementLine(
            movement=movement,
            item=line.item,
            lot=line.lot,
            quantity=1,
            from_place=line.from_place,
            to_place=line.to_place,
        )
        for _ in range(LINES_SHOWN)
    )
    many = admin_client.get(page).text
    assert line.lot.code not in many
    assert lines in many
    assert line.lot.code in admin_client.get(lines).text


def test_order_page_costs_the_same_queries_for_more_lines(admin_client: Client, loaded: LoadReport) -> None:
    url = reverse("admin:inventory_order_change", args=[Order.objects.get(reference="1002").pk])
    few = queries_of(admin_client, url)
    line = OrderLine.objects.get(order__reference="1002")
    for number, sku in enumerate(Sku.objects.exclude(pk=line.sku_id), start=2):
        OrderLine.objects.create(order=line.order, line_no=number, sku=sku, quantity=1)
    assert queries_of(admin_client, url) == few


def test_sku_search_finds_code_name_and_gtin(admin_client: Client, loaded: LoadReport) -> None:
    url = reverse("admin:inventory_sku_changelist")
    for words in ("PLA-STONE-175-1000", "Stone 1 kg", "9520000000011"):
        page = admin_client.get(url, {"q": words}).content.decode()
        assert re.findall(r"PLA-S[A-Z]+-175-[0-9]+", page).count("PLA-STONE-175-1000") >= 1
        assert "PLA-SNOW-175-250" not in page


def test_swatch_has_a_fill_attribute_and_no_style() -> None:
    drawn = swatch("#F4F6F8", label="Snow")
    assert 'fill="#F4F6F8"' in drawn
    assert "style" not in drawn


@pytest.mark.parametrize("text", ['"><script>alert(1)</script>', "red", "#12345G", "#123456;", ""])
def test_swatch_of_what_is_no_colour_is_escaped_text(text: str) -> None:
    drawn = swatch(text, label="<b>name</b>")
    assert "<script" not in drawn
    assert "<rect" not in drawn
    assert "&lt;b&gt;name" in drawn


def test_list_of_skus_escapes_names(admin_client: Client, loaded: LoadReport) -> None:
    Item.objects.filter(code="PLA-SNOW-175-250").update(name="<script>alert(1)</script>")
    page = admin_client.get(reverse("admin:inventory_sku_changelist")).content.decode()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_filter_of_skus_by_day_answers(admin_client: Client, loaded: LoadReport) -> None:
    url = reverse("admin:inventory_sku_changelist")
    assert admin_client.get(url, {"active_from__gte": date(2026, 1, 1).isoformat()}).status_code == 200
