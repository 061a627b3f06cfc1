"""What the database knows of its tables once they are filled.

Where it keeps that: PostgreSQL documentation, "pg_stats"; SQLite documentation, "The SQLITE_STAT1 Table".
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Order, Shipment
from inventory.plant_files.import_orders import import_orders
from inventory.plant_files.load import load_plant
from inventory.plant_files.statistics import LEDGER
from tests.inventory.catalogue.conftest import MONDAY

pytestmark = pytest.mark.django_db

KNOWN_TABLES = {
    "postgresql": "SELECT tablename FROM pg_stats WHERE schemaname = current_schema()",
    "sqlite": "SELECT tbl FROM sqlite_stat1",
}


def known_tables() -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute(KNOWN_TABLES[connection.vendor])
        return {name for (name,) in cursor.fetchall()}


def analysed_in(step: Callable[[], object]) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        step()
    return [query["sql"] for query in queries if query["sql"].startswith("ANALYZE")]


def test_database_knows_every_table_that_a_load_filled_but_the_ledger(plant_dir: Path) -> None:
    """Of a ledger known to hold one movement SQLite went through all lines for each movement that came later."""
    load_plant(plant_dir, as_of=MONDAY)
    models = apps.get_app_config("inventory").get_models()
    filled = {model._meta.db_table for model in models if model._default_manager.exists()}
    ledger = {model._meta.db_table for model in LEDGER}
    assert {Order._meta.db_table} | ledger < filled
    assert filled - known_tables() == ledger


def test_no_table_is_looked_at_while_it_is_empty(plant_dir: Path) -> None:
    (plant_dir / "orders.csv").unlink()
    looked_at = analysed_in(lambda: load_plant(plant_dir, as_of=MONDAY))
    assert 'ANALYZE "inventory_sku"' in looked_at
    assert 'ANALYZE "inventory_order"' not in looked_at


def test_import_has_the_tables_of_orders_looked_at_if_it_adds_any(loaded: object, tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("reference,received_at,sku,quantity\nA1,2027-03-01T06:30:00Z,PLA-STONE-175-1000,2\n")
    assert f'ANALYZE "{Shipment._meta.db_table}"' in analysed_in(
        lambda: import_orders(path, channel="SHOP", as_of=MONDAY)
    )
    assert analysed_in(lambda: import_orders(path, channel="SHOP", as_of=MONDAY)) == []
