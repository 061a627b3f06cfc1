"""Each constraint of runs and oven loads twice: a clean error through the service, IntegrityError past it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError
from inventory.models import OvenLoad, Run, RunOutput
from inventory.services.ovens import OvenBusyError, OvenLimitError, load_oven
from inventory.services.runs import (
    LineBusyError,
    RunStateError,
    cancel_run,
    finish_run,
    reschedule_run,
    resize_run,
    start_run,
)
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG, finished, loaded, released, started
from tests.inventory.builders import TinyPlant, clock, local

pytestmark = pytest.mark.django_db
MONDAY = clock("2027-03-01 10:00")
AT = local("2027-03-01 10:00")


@pytest.mark.clean_error_of("run_one_started_per_line")
def test_second_started_run_of_a_line_is_refused_by_the_service(plant: TinyPlant) -> None:
    started()
    second = released()
    with pytest.raises(LineBusyError):
        start_run(run_code=second.code, clock=MONDAY)


@pytest.mark.refused_by_database("run_one_started_per_line")
def test_second_started_run_of_a_line_is_refused_by_the_database(plant: TinyPlant) -> None:
    started()
    second = released()
    with refused("run_one_started_per_line"):
        Run.objects.filter(pk=second.pk).update(state="started", started_at=AT)


@pytest.mark.clean_error_of("run_ends_after_start")
def test_run_that_ends_before_it_starts_is_refused_by_the_service(plant: TinyPlant) -> None:
    run = released()
    with pytest.raises(InvalidInputError, match="is before planned_start"):
        reschedule_run(run_code=run.code, planned_start=AT, planned_end=AT - timedelta(minutes=1), clock=MONDAY)


@pytest.mark.refused_by_database("run_ends_after_start")
def test_run_that_ends_before_it_starts_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("run_ends_after_start"):
        Run.objects.update(planned_end=local("2027-03-01 07:00"))


@pytest.mark.clean_error_of("run_state_has_its_times")
def test_run_that_finishes_before_its_start_is_refused_by_the_service(stores: TinyPlant) -> None:
    run = started()
    report = {"good": {KG: 1}, "scrap": {}, "real_minutes": Decimal(1), "purge_kg": Decimal(0)}
    with pytest.raises(InvalidInputError, match=r"is before run R\d+ was started at"):
        finish_run(run_code=run.code, clock=clock("2027-03-01 07:59"), **report)


@pytest.mark.clean_error_of("run_state_has_its_times")
def test_run_that_never_started_cannot_finish_and_one_that_did_cannot_be_cancelled(stores: TinyPlant) -> None:
    first, second = started(), released()
    with pytest.raises(RunStateError, match="only a started run can be finished"):
        finish_run(run_code=second.code, good={}, scrap={}, real_minutes=Decimal(1), purge_kg=Decimal(0), clock=MONDAY)
    with pytest.raises(RunStateError, match="only a released run can be cancelled"):
        cancel_run(run_code=first.code, clock=MONDAY)


@pytest.mark.refused_by_database("run_state_has_its_times")
@pytest.mark.parametrize(
    "fields",
    [
        {"state": "started", "started_at": None},
        {"state": "finished", "started_at": AT, "finished_at": AT - timedelta(minutes=1)},
        {"state": "cancelled", "cancelled_at": None},
        {"state": "released", "started_at": AT},
    ],
)
def test_run_without_the_times_of_its_state_is_refused_by_the_database(
    plant: TinyPlant, fields: dict[str, object]
) -> None:
    released()
    with refused("run_state_has_its_times"):
        Run.objects.update(**fields)


@pytest.mark.clean_error_of("runoutput_allocated_within_awaited")
def test_run_smaller_than_its_promises_gives_spools_back_through_the_service(
    plant: TinyPlant, order: Callable[..., int]
) -> None:
    run = released()
    order("A", {plant.black_1kg: 40})
    resize_run(run_code=run.code, spools={KG: 10}, clock=MONDAY)
    output = RunOutput.objects.get(sku=plant.black_1kg)
    assert (output.awaited, output.allocated) == (10, 10)


@pytest.mark.refused_by_database("runoutput_allocated_within_awaited")
def test_output_below_its_promises_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("runoutput_allocated_within_awaited"):
        RunOutput.objects.filter(sku=plant.black_1kg).update(allocated=41)


@pytest.mark.clean_error_of("runoutput_one_per_run_and_sku")
def test_second_output_of_a_sku_is_never_made_by_the_service(stores: TinyPlant) -> None:
    run = started()
    resize_run(run_code=run.code, spools={KG: 12}, clock=MONDAY)
    finish_run(
        run_code=run.code, good={KG: 12}, scrap={KG: 1}, real_minutes=Decimal(1), purge_kg=Decimal(0), clock=MONDAY
    )
    assert RunOutput.objects.filter(run=run, sku=stores.black_1kg).count() == 1


@pytest.mark.refused_by_database("runoutput_one_per_run_and_sku")
def test_second_output_of_a_sku_is_refused_by_the_database(plant: TinyPlant) -> None:
    released()
    with refused("runoutput_one_per_run_and_sku"):
        copy_of(RunOutput.objects.get(sku=plant.black_1kg))


@pytest.mark.clean_error_of("ovenload_one_at_a_time")
def test_second_load_of_a_full_oven_is_refused_by_the_service(stores: TinyPlant) -> None:
    loaded(spools=20)
    with pytest.raises(OvenBusyError):
        load_oven(oven_code="O1", spools=[(None, KG, 18)], clock=clock("2027-03-01 18:00"))


@pytest.mark.refused_by_database("ovenload_one_at_a_time")
def test_second_load_of_a_full_oven_is_refused_by_the_database(stores: TinyPlant) -> None:
    loaded(spools=20)
    with refused("ovenload_one_at_a_time"):
        copy_of(OvenLoad.objects.get(), code="O9")


@pytest.mark.clean_error_of("ovenload_ready_after_loading")
def test_load_that_is_ready_before_it_begins_is_refused_by_the_service(stores: TinyPlant) -> None:
    finished()
    with pytest.raises(OvenLimitError, match="-1 hours"):
        load_oven(oven_code="O1", spools=[(None, KG, 1)], hours=Decimal(-1), clock=clock("2027-03-01 18:00"))


@pytest.mark.refused_by_database("ovenload_ready_after_loading")
def test_load_that_is_ready_before_it_begins_is_refused_by_the_database(stores: TinyPlant) -> None:
    loaded()
    with refused("ovenload_ready_after_loading"):
        OvenLoad.objects.update(ready_at=local("2027-03-01 16:00"))
