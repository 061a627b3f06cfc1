"""Runs until their start. Shelf times by hand from the week of `builders`: loaded 17:00, packed 06:00 to 09:00."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Allocation, Hopper, Line, OrderLine, PromiseChange, Run, RunOutput, Sku
from inventory.services.runs import (
    LineBusyError,
    ResinKeptTooLongError,
    ResinNotDryError,
    RunStateError,
    cancel_run,
    release_run,
    reschedule_run,
    resize_run,
    start_run,
)
from tests.inventory.books.floor import KG, QUARTER, released, started
from tests.inventory.books.reading import awaited
from tests.inventory.builders import TinyPlant, clock, local

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]
TUESDAY, WEDNESDAY = date(2027, 3, 2), date(2027, 3, 3)


def test_release_awaits_the_planned_spools(plant: TinyPlant) -> None:
    run = released()
    assert (awaited(run.code, plant.black_1kg), awaited(run.code, plant.black_250g)) == (40, 20)


def test_release_expects_the_spools_after_the_oven_and_the_packing_morning(plant: TinyPlant) -> None:
    # Wound Monday 14:00, loaded 17:00, dry 23:00, packed Tuesday from 06:00, shelved 09:00.
    released()
    output = RunOutput.objects.first()
    assert (output.shelf_at, output.shelf_day) == (local("2027-03-02 09:00"), TUESDAY)


def test_release_expects_the_spools_after_the_weekend_when_wound_late_on_friday(plant: TinyPlant) -> None:
    # Friday 18:00 misses the load of 17:00; Monday 17:00 + 6 h, packed on Tuesday.
    released(start="2027-03-05 10:00", end="2027-03-05 18:00")
    assert RunOutput.objects.first().shelf_at == local("2027-03-09 09:00")


def test_release_promises_the_run_to_orders_that_wait(plant: TinyPlant, order: Ordering) -> None:
    order("A", {plant.black_1kg: 30}, at="2027-03-01 06:30")
    released()
    assert OrderLine.objects.get().promised_day == TUESDAY
    assert Allocation.objects.get(end="").run_output.sku == plant.black_1kg


@pytest.mark.parametrize(
    ("fields", "error", "message"),
    [
        ({"filament_code": "PLA-PINK"}, NotFoundError, "Filament 'PLA-PINK'"),
        ({"line_code": "L9"}, NotFoundError, "Line 'L9'"),
        ({"hopper_code": "H9"}, NotFoundError, "Hopper 'H9'"),
        ({"spools": {"PLA-PINK-1000": 3}}, NotFoundError, "SKU 'PLA-PINK-1000'"),
        ({"spools": {"PETG-NAT-1000": 3}}, InvalidInputError, "is not wound from PLA-BLACK-1.75"),
        ({"spools": {}}, InvalidInputError, "at least one SKU"),
        ({"spools": {KG: 0}}, InvalidInputError, "at least one spool"),
        ({"spools": {KG: -1}}, InvalidInputError, "-1 spools of PLA-BLACK-1000"),
        ({"spools": {KG: 100_001}}, InvalidInputError, "100001 spools"),
        ({"planned_end": local("2027-03-01 07:59")}, InvalidInputError, "is before planned_start"),
        ({"planned_end": local("2027-03-01 07:59").replace(tzinfo=None)}, InvalidInputError, "has no time zone"),
        ({"changeover_min": Decimal(-1)}, InvalidInputError, "must not be negative"),
    ],
)
def test_release_is_refused(plant: TinyPlant, fields: dict[str, object], error: type[Exception], message: str) -> None:
    draft = {
        "filament_code": "PLA-BLACK-1.75",
        "line_code": "L1",
        "spools": {KG: 4},
        "planned_start": local("2027-03-01 08:00"),
        "planned_end": local("2027-03-01 14:00"),
    }
    with pytest.raises(error, match=message):
        release_run(**{**draft, **fields}, clock=clock("2027-03-01 07:00"))
    assert not Run.objects.exists()


def test_release_is_refused_on_a_line_without_a_speed(plant: TinyPlant) -> None:
    plant.line.speeds.filter(filament=plant.black).delete()
    with pytest.raises(InvalidInputError, match="it cannot make it"):
        released()


def test_start_puts_the_filament_into_the_line(plant: TinyPlant) -> None:
    run = started()
    assert (Run.objects.get().state, Line.objects.get().holds) == ("started", run.filament)


def test_start_puts_the_material_into_the_hopper(plant: TinyPlant) -> None:
    started(hopper_code="H1", drying_from=local("2027-03-01 04:00"))
    hopper = Hopper.objects.get()
    assert (hopper.holds_material, hopper.dried_since) == (plant.black.material, local("2027-03-01 04:00"))


def test_start_is_refused_while_another_run_is_on_the_line(plant: TinyPlant) -> None:
    first = started()
    second = released()
    with pytest.raises(LineBusyError, match=f"Run {first.code} is started on line L1"):
        start_run(run_code=second.code, clock=clock("2027-03-01 09:00"))


def test_start_is_refused_when_the_resin_is_not_dry(plant: TinyPlant) -> None:
    # In the hopper since 05:00, 4 h needed: dry at 09:00.
    run = released(drying_from=local("2027-03-01 05:00"))
    with pytest.raises(ResinNotDryError, match="needs 4 h; it cannot start before 2027-03-01 08:00:00"):
        start_run(run_code=run.code, clock=clock("2027-03-01 08:59"))
    assert Run.objects.get().state == "released"


def test_start_is_accepted_when_the_resin_has_had_its_hours(plant: TinyPlant) -> None:
    run = released(drying_from=local("2027-03-01 05:00"))
    start_run(run_code=run.code, clock=clock("2027-03-01 09:00"))
    assert Run.objects.get().started_at == local("2027-03-01 09:00")


@pytest.mark.parametrize(
    ("told_at", "drying_from"),
    [
        # Planned to dry from Monday 04:00 for 08:00; moved to Tuesday 08:00, a day later.
        ("2027-03-01 03:59", "2027-03-02 04:00"),
        ("2027-03-01 04:00", "2027-03-01 04:00"),
    ],
)
def test_run_that_moves_takes_along_the_drying_that_has_not_begun(
    plant: TinyPlant, told_at: str, drying_from: str
) -> None:
    run = released(drying_from=local("2027-03-01 04:00"))
    Run.objects.update(released_at=local("2027-02-28 12:00"), released_known_at=local("2027-02-28 12:00"))
    times = {"planned_start": local("2027-03-02 08:00"), "planned_end": local("2027-03-02 14:00")}
    reschedule_run(run_code=run.code, clock=clock(told_at), **times)
    assert Run.objects.get().drying_from == local(drying_from)


def test_start_is_refused_when_the_resin_was_kept_too_long(plant: TinyPlant) -> None:
    # In the hopper since Sunday 04:00, dry at 08:00, keeps 24 h (the table's default): until Monday 08:00.
    run = released(drying_from=local("2027-02-28 04:00"))
    with pytest.raises(ResinKeptTooLongError, match=r"keeps 24 h, until 2027-03-01 07:00:00.*Dry it again"):
        start_run(run_code=run.code, clock=clock("2027-03-01 08:01"))
    assert Run.objects.get().state == "released"


def test_start_is_accepted_until_the_last_minute_that_the_resin_keeps(plant: TinyPlant) -> None:
    run = released(drying_from=local("2027-02-28 04:00"))
    start_run(run_code=run.code, clock=clock("2027-03-01 08:00"))
    assert Run.objects.get().state == "started"


def test_start_with_resin_that_was_dried_again_is_accepted_and_noted(plant: TinyPlant) -> None:
    run = released(hopper_code="H1", drying_from=local("2027-02-28 04:00"))
    start_run(run_code=run.code, drying_from=local("2027-03-01 06:00"), clock=clock("2027-03-01 10:00"))
    assert Run.objects.get().drying_from == Hopper.objects.get().dried_since == local("2027-03-01 06:00")


def test_start_is_refused_when_the_new_drying_is_too_short_or_to_come(plant: TinyPlant) -> None:
    run = released(drying_from=local("2027-02-28 04:00"))
    with pytest.raises(ResinNotDryError, match="needs 4 h"):
        start_run(run_code=run.code, drying_from=local("2027-03-01 06:01"), clock=clock("2027-03-01 10:00"))
    with pytest.raises(InvalidInputError, match="is after the start"):
        start_run(run_code=run.code, drying_from=local("2027-03-01 10:01"), clock=clock("2027-03-01 10:00"))


def test_start_from_a_hopper_that_is_refilled_knows_no_keeping(plant: TinyPlant) -> None:
    Hopper.objects.update(is_continuous=True)
    run = released(hopper_code="H1", drying_from=local("2027-02-26 04:00"))
    start_run(run_code=run.code, clock=clock("2027-03-01 08:01"))
    assert Run.objects.get().state == "started"


def test_start_is_refused_twice(plant: TinyPlant) -> None:
    run = started()
    with pytest.raises(RunStateError, match="is started; only a released run can be started"):
        start_run(run_code=run.code, clock=clock("2027-03-01 09:00"))


def test_start_is_refused_of_an_unknown_run(plant: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="Run 'R9'"):
        start_run(run_code="R9", clock=clock("2027-03-01 09:00"))


def test_late_start_moves_the_promise_and_tells_sales(plant: TinyPlant, order: Ordering) -> None:
    order("A", {plant.black_1kg: 30}, at="2027-03-01 06:30")
    run = released()
    # Six hours from 12:00 end at 18:00: Monday's oven load is missed, Wednesday it is.
    start_run(run_code=run.code, clock=clock("2027-03-01 12:00"))
    assert OrderLine.objects.get().promised_day == WEDNESDAY
    told = PromiseChange.objects.first()
    assert (told.old_day, told.new_day) == (TUESDAY, WEDNESDAY)


def test_rescheduling_returns_the_promises_that_moved(plant: TinyPlant, order: Ordering) -> None:
    order("A", {plant.black_1kg: 30}, at="2027-03-01 06:30")
    run = released()
    moved = reschedule_run(
        run_code=run.code,
        planned_start=local("2027-03-02 08:00"),
        planned_end=local("2027-03-02 14:00"),
        clock=clock("2027-03-01 07:30"),
    )
    assert [(change.old_day, change.new_day) for change in moved.promise_changes] == [(TUESDAY, WEDNESDAY)]


def test_rescheduling_cannot_move_the_start_of_a_started_run(plant: TinyPlant) -> None:
    run = started()
    with pytest.raises(InvalidInputError, match="only its end can move"):
        reschedule_run(
            run_code=run.code,
            planned_start=local("2027-03-01 09:00"),
            planned_end=local("2027-03-01 18:00"),
            clock=clock("2027-03-01 09:00"),
        )


def test_shrinking_takes_spools_from_the_latest_due_order(plant: TinyPlant, order: Ordering) -> None:
    first = order("A", {plant.black_1kg: 25}, at="2027-03-01 06:30")
    second = order("B", {plant.black_1kg: 15}, at="2027-03-01 06:40")
    run = released()
    resize_run(run_code=run.code, spools={KG: 30}, clock=clock("2027-03-01 07:30"))
    held = {row.order_line.order_id: row.quantity for row in Allocation.objects.filter(end="")}
    assert held == {first: 25, second: 5}


def test_growing_serves_orders_that_wait(plant: TinyPlant, order: Ordering) -> None:
    order("A", {plant.black_1kg: 50}, at="2027-03-01 06:30")
    run = released()
    resize_run(run_code=run.code, spools={KG: 60}, clock=clock("2027-03-01 07:30"))
    assert OrderLine.objects.get().promised_day == TUESDAY


def test_resizing_leaves_other_sizes_alone(plant: TinyPlant) -> None:
    run = released()
    resize_run(run_code=run.code, spools={KG: 10}, clock=clock("2027-03-01 07:30"))
    assert (awaited(run.code, plant.black_1kg), awaited(run.code, plant.black_250g)) == (10, 20)


def test_resizing_to_nothing_is_refused(plant: TinyPlant) -> None:
    run = released()
    with pytest.raises(InvalidInputError, match="cancel it instead"):
        resize_run(run_code=run.code, spools={KG: 0, QUARTER: 0}, clock=clock("2027-03-01 07:30"))


def test_cancelling_takes_the_promise_back_and_tells_sales(plant: TinyPlant, order: Ordering) -> None:
    order("A", {plant.black_1kg: 30}, at="2027-03-01 06:30")
    run = released()
    cancelled = cancel_run(run_code=run.code, clock=clock("2027-03-01 07:30"))
    assert [(change.old_day, change.new_day) for change in cancelled.promise_changes] == [(TUESDAY, None)]
    assert awaited(run.code, plant.black_1kg) == 0


def test_cancelling_is_refused_once_started(plant: TinyPlant) -> None:
    run = started()
    with pytest.raises(RunStateError, match="only a released run can be cancelled"):
        cancel_run(run_code=run.code, clock=clock("2027-03-01 09:00"))


def test_release_costs_the_same_queries_for_one_and_for_twenty_sizes(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    def release(skus: list[Sku]) -> None:
        release_run(
            filament_code="PLA-BLACK-1.75",
            line_code="L1",
            spools={sku.item.code: 5 for sku in skus},
            planned_start=local("2027-03-01 08:00"),
            planned_end=local("2027-03-01 14:00"),
            clock=clock("2027-03-01 07:00"),
        )

    assert queries_of(release, many_skus[:20]) == queries_of(release, many_skus[20:])
