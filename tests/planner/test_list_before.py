"""What the facts of a list hold of the list before: what was free to move and is still to begin, as known then."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from inventory.models import PlantParameters
from stockplan.planner.core.whatif import RushOrder
from stockplan.planner.models import ListedRun, MakeList, PlannerInstruction
from stockplan.planner.selectors.list_changes import listed_before
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_list
from stockplan.planner.services.what_if import what_if
from tests.inventory.builders import TinyPlant, clock, local
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")
LATER = AS_OF + timedelta(hours=1)


@pytest.fixture
def listed(ordered: TinyPlant) -> ListedRun:
    """The run of six kilogram spools and two small ones of black on the list of ten o'clock."""
    return compute_make_list(as_of=AS_OF, now=AS_OF, days=5).runs.get()


def test_runs_of_the_newest_earlier_list_are_known_with_their_places_and_sizes(listed: ListedRun) -> None:
    before = listed_before(as_of=LATER)
    assert before is not None
    assert before.as_of == AS_OF
    (run,) = before.runs
    assert (run.filament, run.line, run.start) == ("PLA-BLACK-1.75", listed.line.code, listed.start)
    assert run.spools == {"PLA-BLACK-1000": 6, "PLA-BLACK-250": 2}
    assert compute_forecast(as_of=LATER, now=LATER, days=5).facts().listed == before


def test_list_of_the_same_instant_is_not_the_list_before(listed: ListedRun) -> None:
    assert listed_before(as_of=AS_OF) is None
    compute_make_list(as_of=AS_OF, now=LATER, days=5)
    assert MakeList.objects.values("data_digest").distinct().count() == 1


def test_list_of_an_earlier_instant_that_was_computed_later_is_not_known(listed: ListedRun) -> None:
    MakeList.objects.update(created_at=LATER + timedelta(minutes=1))
    assert listed_before(as_of=LATER) is None


def test_released_run_is_left_out_from_its_release_on(listed: ListedRun) -> None:
    release_list(make_list_id=listed.make_list_id, clock=clock("2027-03-01 10:30"))
    assert listed_before(as_of=LATER) is None
    earlier = listed_before(as_of=AS_OF + timedelta(minutes=20))
    assert earlier is not None
    assert len(earlier.runs) == 1


def test_pinned_run_is_left_out(ordered: TinyPlant) -> None:
    PlannerInstruction.objects.create(kind="pin", filament=ordered.black_1kg.filament, created_at=AS_OF)
    pinned = compute_make_list(as_of=AS_OF, now=AS_OF, days=5).runs.get()
    assert pinned.is_pinned
    assert listed_before(as_of=LATER) is None


def test_what_if_goes_on_from_the_newest_list_where_a_search_makes_it(ordered: TinyPlant) -> None:
    PlantParameters.objects.update(search_moves=200)
    order("TWO", [("PETG-NAT-1000", 4)], at="2027-03-01 08:00", wanted="2027-03-05")
    newest = compute_make_list(as_of=AS_OF, now=AS_OF, days=5)
    found = what_if([RushOrder("PLA-BLACK-1000", 1, date(2027, 3, 5))], now=LATER)
    assert found.misses_newest == newest.misses_with
    assert {difference.filament for difference in found.differences} <= {"PLA-BLACK-1.75"}
