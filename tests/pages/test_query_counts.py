"""No page asks the database more often when there are more rows, and none more than forty times."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from forecasting.messages import message
from inventory.models import Run, RunOutput, Sku
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed, PlannerInstruction
from tests.inventory.builders import build_sku
from tests.pages.shown_plant import (
    WORKING_PATHS,
    ShownPlant,
    add_filament,
    add_past_order,
    place_due_order,
    put_on_shelf,
)

MOST_QUERIES = 40


def test_every_page_asks_as_often_for_many_rows_as_for_few(
    shown: ShownPlant, logged_in: Callable[[str], Client]
) -> None:
    client = logged_in("owner")
    paths = [shown.fill_in(path) for path in WORKING_PATHS]
    # What is read once and kept, as the calendar of the plant is, they read now.
    for path in paths:
        client.get(path)
    few = {path: queries_of(client, path) for path in paths}
    add_rows(shown, count=20)
    many = {path: queries_of(client, path) for path in paths}
    assert many == few
    assert {path: count for path, count in few.items() if count > MOST_QUERIES} == {}


def queries_of(client: Client, path: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        response = client.get(path)
    assert response.status_code == 200
    return len(asked)


def add_rows(shown: ShownPlant, *, count: int) -> None:
    """Some more of everything that a page lists: SKUs with stock, past orders, listed runs, instructions, runs."""
    for number in range(count):
        filament = add_filament(shown.tiny, f"MORE{number}", name=f"More {number}", colour_hex="#123456")
        size = shown.ruby_1kg.spool_size
        sku = build_sku(f"PLA-MORE-{number}", filament=filament, size=size, number=100 + number, value="1")
        put_on_shelf(sku, spools=3, now=timezone.now())
        add_past_order(shown.tiny.black_1kg, spools=1, days_ago=number + 1)
        add_listed_run(shown.make_list, sku, rank=10 + number)
        add_run(shown, sku, number=number)
        place_due_order([(sku.item.code, 1)], reference=f"MORE-{number}", now=timezone.now())
        NotListed.objects.create(
            make_list=shown.make_list, filament=filament, cause="no_room", sentence=message("Full.")
        )
        PlannerInstruction.objects.create(kind="forbid", filament=filament, created_at=timezone.now())


def add_listed_run(make_list: MakeList, sku: Sku, *, rank: int) -> None:
    listed = ListedRun.objects.create(
        make_list=make_list,
        rank=rank,
        filament=sku.filament,
        is_blocked=True,
        misses_avoided=1,
        worth_per_hour=1,
        reason=message("-"),
    )
    ListedRunSize.objects.create(listed_run=listed, sku=sku, spools=1, free=0, order_up_to=1, misses_avoided=1)


def add_run(shown: ShownPlant, sku: Sku, *, number: int) -> None:
    start = timezone.now() + timedelta(days=1, hours=number)
    run = Run.objects.create(
        code=f"MORE-{number}",
        filament=sku.filament,
        line=shown.tiny.line,
        planned_start=start,
        planned_end=start + timedelta(minutes=30),
        released_at=start,
        released_known_at=start,
    )
    RunOutput.objects.create(run=run, sku=sku, planned=2, awaited=2, shelf_at=start, shelf_day=start.date())
