"""The migrations can be taken back and made again, on both databases, and what is in the books stays."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection
from django.db.migrations.executor import MigrationExecutor

from inventory.models import (
    Closure,
    Movement,
    MovementLine,
    Order,
    PlantParameters,
    Run,
    RunOutput,
    RunOutputPlan,
    RunPlan,
    ShelfStock,
)
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.check import check_books
from inventory.selectors.stock_changes import StockChanges, stock_changes
from inventory.services.orders import place_order
from inventory.services.places import ensure_places
from tests.inventory.books.floor import QUARTER, finish, released, started
from tests.inventory.builders import build_tiny_plant, clock, local, put_on_shelf

# It takes the tables from under the feet of every other connection.
pytestmark = [pytest.mark.alone, pytest.mark.django_db(transaction=True)]
BEFORE = ("inventory", "0016_moved_run_price")
BEFORE_PLANS = ("inventory", "0014_search_moves")
KEPT = (Movement, MovementLine, ShelfStock, Order, Closure)
LATER_COLUMNS = {"change_no", "kept_until"}


@pytest.fixture
def books() -> Iterator[None]:
    """Stock and an order; whatever the test does, the tables are there again after it."""
    tiny = build_tiny_plant()
    ensure_places()
    put_on_shelf(tiny.black_1kg, 5)
    body = OrderDraft("WEB", "A-1", [("PLA-BLACK-1000", 2)])
    place_order(body=body, clock=clock("2027-03-01 10:00"))
    yield
    call_command("migrate", verbosity=0)


def rows(model) -> list[tuple]:
    """What is in the table, without the columns that came later."""
    columns = [field.column for field in model._meta.concrete_fields if field.column not in LATER_COLUMNS]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(columns)} FROM {model._meta.db_table} ORDER BY 1")
        return cursor.fetchall()


def columns_of(model) -> set[str]:
    with connection.cursor() as cursor:
        described = connection.introspection.get_table_description(cursor, model._meta.db_table)
    return {column.name for column in described}


def test_books_plans_and_triggers_survive_the_way_back_to_before_the_change_numbers_and_forth(books):
    run = released(changeover_min=Decimal("14.5"))
    before = [rows(model) for model in KEPT]
    MigrationExecutor(connection).migrate([BEFORE])
    assert "change_no" not in columns_of(ShelfStock)
    assert [rows(model) for model in KEPT] == before
    call_command("migrate", verbosity=0)
    assert [rows(model) for model in KEPT] == before
    assert check_books() == []
    assert apps.get_model("inventory", "ShelfStock") is ShelfStock
    assert_plan_cannot_be_changed(run)
    assert_changes_are_numbered()


def assert_plan_cannot_be_changed(run: Run) -> None:
    assert RunPlan.objects.get().changeover_min == Decimal("14.5")
    with pytest.raises(IntegrityError, match="never_changes"):
        RunPlan.objects.filter(run=run).update(changeover_min=1)


def assert_changes_are_numbered() -> None:
    cursor, version = stock_changes(after=StockChanges.BEGINNING, limit=9).cursor, PlantParameters.objects.get().version
    place_order(body=OrderDraft("WEB", "A-2", [("PLA-BLACK-1000", 1)]), clock=clock("2027-03-01 11:00"))
    Closure.objects.create(day=date(2027, 3, 8), reason="stocktaking")
    assert stock_changes(after=cursor, limit=9).sku_codes == ("PLA-BLACK-1000",)
    assert PlantParameters.objects.get().version not in ("", version)


def test_runs_from_before_their_plans_were_kept_get_the_plan_that_stands(books):
    # Planned: 40 spools of 1 kg at the release; the 250 g size joins at the finish.
    run = started(changeover_min=Decimal("14.5"), planned_purge_kg=Decimal("1.25"))
    finish(run)
    RunOutput.objects.filter(sku__item__code=QUARTER).update(planned=0)
    MigrationExecutor(connection).migrate([BEFORE_PLANS])
    call_command("migrate", verbosity=0)
    assert check_books() == []
    plan = RunPlan.objects.get()
    assert plan.known_at == local("2027-03-01 07:00")
    assert (plan.line.code, plan.changeover_min, plan.planned_purge_kg) == ("L1", Decimal("14.5"), Decimal("1.25"))
    assert dict(RunOutputPlan.objects.values_list("planned", "known_at")) == {
        40: local("2027-03-01 07:00"),
        0: local("2027-03-01 14:00"),
    }
