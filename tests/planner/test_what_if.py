"""What-ifs on the newest list of the books: their price, what they show, and that nothing is touched."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.models import Oven, PlantParameters, Run
from stockplan.planner.core.list_changes import Kind
from stockplan.planner.core.whatif import Forbid, LineDown, Pin, ReplanReleased, Resize, RushOrder, WhatIfError
from stockplan.planner.models import ForecastRun, MakeList, PlannerInstruction
from stockplan.planner.selectors.make_lists import MakeListNotFoundError
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_list
from stockplan.planner.services.what_if import what_if
from tests.inventory.builders import TinyPlant, clock, local

AS_OF = local("2027-03-01 10:00")
NOW = AS_OF + timedelta(hours=1)
BLACK, BLACK_KG = "PLA-BLACK-1.75", "PLA-BLACK-1000"


@pytest.fixture
def newest(ordered: TinyPlant) -> MakeList:
    """The list of six kilogram spools and two small ones of black, due on Thursday."""
    return compute_make_list(as_of=AS_OF, now=AS_OF, days=5)


def test_what_is_forbidden_costs_what_its_runs_avoid(newest: MakeList) -> None:
    found = what_if([Forbid(BLACK)], now=NOW)
    assert (found.misses_before, found.misses_after) == (newest.misses_with, pytest.approx(newest.misses_without))
    assert found.price == pytest.approx(newest.misses_without - newest.misses_with)
    assert [(d.kind, d.filament) for d in found.differences] == [(Kind.DROPPED, BLACK)]
    assert found.runs == ()


def test_stored_list_of_a_local_hour_is_taken_as_it_is(newest: MakeList) -> None:
    # Read back, its instant is in UTC. A figure that no list comes to shows which one was taken.
    MakeList.objects.update(misses_with=99.0)
    assert what_if([Forbid(BLACK)], now=NOW).misses_newest == 99.0


def test_price_is_the_difference_to_a_better_list_that_the_search_came_upon(newest: MakeList) -> None:
    MakeList.objects.update(misses_with=99.0)
    found = what_if([RushOrder(BLACK_KG, 60, date(2027, 3, 5))], now=NOW)
    # The list with the change makes all that is due without it.
    assert (found.misses_newest, found.misses_before) == (99.0, pytest.approx(newest.misses_with))
    assert str(found.remark).startswith("The search came upon a better list on the way: without the change its lots")


def test_change_that_takes_the_place_of_an_instruction_in_force_is_priced_against_the_newest_list(
    ordered: TinyPlant,
) -> None:
    PlannerInstruction.objects.create(kind="forbid", filament=ordered.black_1kg.filament, created_at=AS_OF)
    newest = compute_make_list(as_of=AS_OF, now=AS_OF, days=5)
    found = what_if([Pin(BLACK)], now=NOW)
    assert (found.misses_before, found.misses_newest) == (newest.misses_with, newest.misses_with)
    assert found.gain == pytest.approx(newest.misses_with - found.misses_after)
    assert found.gain > 1
    assert str(found.remark).startswith("That is fewer with the change than without, which it cannot bring about by")


def test_size_that_the_list_has_already_changes_nothing(newest: MakeList) -> None:
    found = what_if([Resize(BLACK_KG, 6), Resize("PLA-BLACK-250", 2)], now=NOW)
    assert found.remark is None
    assert found.price == pytest.approx(0.0, abs=1e-9)
    assert found.differences == ()


def test_rush_order_is_on_the_new_list(newest: MakeList) -> None:
    found = what_if([RushOrder(BLACK_KG, 60, date(2027, 3, 4))], now=NOW)
    assert sum(size.spools for run in found.runs for size in run.sizes) == 6 + 2 + 60
    [said] = found.rush_orders
    assert str(said).startswith(f"The rush order of 60 × {BLACK_KG} due on Thu 4 Mar ")


def test_line_that_is_down_until_after_the_due_day_costs_every_spool(newest: MakeList) -> None:
    found = what_if([LineDown("L1", date(2027, 3, day)) for day in range(1, 5)], now=NOW)
    # Eight spools miss Thursday and are wound on Friday, to be shelved on Monday: they wait over Friday, a tenth each.
    assert found.price == pytest.approx(8 + 0.8)


def test_nothing_is_stored_or_touched(newest: MakeList) -> None:
    what_if([Forbid(BLACK), LineDown("L1", date(2027, 3, 2))], now=NOW)
    counts = [model.objects.count() for model in (MakeList, ForecastRun, PlannerInstruction, Run)]
    assert counts == [1, 1, 0, 0]
    assert list(MakeList.objects.values()) == [MakeList.objects.filter(pk=newest.pk).values().get()]


def test_list_before_is_computed_again_where_the_plant_has_changed_since(newest: MakeList) -> None:
    # Two places a night take four nights for the eight spools: not all are there on Thursday any more.
    Oven.objects.update(places=2)
    found = what_if([Resize(BLACK_KG, 6), Resize("PLA-BLACK-250", 2)], now=NOW)
    assert found.misses_before > newest.misses_with
    assert found.price == pytest.approx(0.0, abs=1e-9)


def test_what_if_needs_a_list(ordered: TinyPlant) -> None:
    with pytest.raises(MakeListNotFoundError, match="no make list yet"):
        what_if([Forbid(BLACK)], now=NOW)


def test_what_if_refuses_what_is_not_there(newest: MakeList) -> None:
    with pytest.raises(WhatIfError, match="no line L9"):
        what_if([LineDown("L9", date(2027, 3, 2))], now=NOW)


def test_released_run_that_would_stand_where_it_stands_stays(newest: MakeList) -> None:
    release_list(make_list_id=newest.pk, clock=clock("2027-03-01 10:05"))
    PlantParameters.objects.update(moved_run_price=Decimal("1.5"))
    later = local("2027-03-01 10:30")
    compute_make_list(as_of=later, now=later, days=5)
    found = what_if([ReplanReleased()], now=NOW)
    # Resin is dry half an hour later than for the first list: no move.
    assert str(found.verdict).startswith("Planned anew, 0 of 1 released runs would stand otherwise")
    assert "price is 1.5 for each" in str(found.verdict)
    assert Run.objects.get().state == "released"


def test_command_prints_the_price_the_differences_and_the_new_list(newest: MakeList) -> None:
    out = StringIO()
    call_command("what_if", "--rush-order", BLACK_KG, "60", "2027-03-04", stdout=out)
    said = out.getvalue()
    assert f"Expected misses: {newest.misses_with:.1f} without the changes" in said
    assert "Resized: PLA-BLACK-1.75 on L1, Mon 1 Mar 14:00, 68 spools, 8 before." in said
    assert "1. PLA-BLACK-1.75 on L1: The shelf is expected to run out on" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Say what to change"),
        (["--rush-order", BLACK_KG, "sixty", "2027-03-04"], "whole numbers"),
        (["--line-down", "L1", "tomorrow"], "2027-03-02"),
        (["--forbid", "NO-SUCH"], "no filament NO-SUCH"),
    ],
)
def test_command_refuses_what_cannot_be(newest: MakeList, arguments: list[str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        call_command("what_if", *arguments, stdout=StringIO())
