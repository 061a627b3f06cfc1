"""Release runs of a make list to the floor: each becomes a run of the books, and its spools are promised."""

from __future__ import annotations

from decimal import Decimal
from uuid import UUID

from django.contrib.auth.models import AbstractBaseUser

from inventory.models import Run
from inventory.rules.clock import Clock
from inventory.services.runs import release_run
from inventory.services.transactions import in_one_transaction
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ListedRun, MakeList, PlannerInstruction
from stockplan.planner.selectors.make_lists import MakeListNotFoundError, runs_to_release


class ReleaseError(PlanningError):
    """A run or list cannot be released."""

    code = "release"


@in_one_transaction
def release_list(*, make_list_id: UUID | str, clock: Clock, released_by: AbstractBaseUser | None = None) -> list[Run]:
    """Release every run of a list that is neither blocked nor released yet, in the order of their starts.

    Raises
    ------
    MakeListNotFoundError
        If there is no such list.
    ReleaseError
        If a newer list has been released, or nothing is left to release.
    """
    make_list = MakeList.objects.select_for_update().filter(pk=make_list_id).first()
    if make_list is None:
        raise MakeListNotFoundError("There is no make list {make_list}.", make_list=make_list_id)
    _check_newest(make_list)
    runs = [
        _release(row, clock=clock, by=released_by) for row in runs_to_release(make_list.pk).order_by("start", "rank")
    ]
    if not runs and make_list.state == MakeList.State.RELEASED:
        raise ReleaseError("All runs of this list are released already.")
    _mark_released(make_list)
    return runs


@in_one_transaction
def release_listed_run(*, listed_run_id: int, clock: Clock, by: AbstractBaseUser | None = None) -> Run:
    """Release one run of a list. New lists begin behind it: what stands before it on its line has no time any more.

    Raises
    ------
    ReleaseError
        If there is no such run, it is blocked or released already, or a newer list has been released.
    """
    row = _to_release(listed_run_id)
    run = _release(row, clock=clock, by=by)
    _mark_if_all(row.make_list)
    return run


@in_one_transaction
def release_line_up_to(*, listed_run_id: int, clock: Clock, by: AbstractBaseUser | None = None) -> list[Run]:
    """Release the runs of a line up to one, in their order, so that the line does not stand still before it.

    Raises
    ------
    ReleaseError
        As of `release_listed_run`.
    """
    row = _to_release(listed_run_id)
    rows = runs_to_release(row.make_list_id).filter(line=row.line, place_on_line__lte=row.place_on_line)
    runs = [_release(one, clock=clock, by=by) for one in rows.order_by("place_on_line")]
    _mark_if_all(row.make_list)
    return runs


def _to_release(listed_run_id: int) -> ListedRun:
    make_list = MakeList.objects.select_for_update(of=("self",)).filter(runs=listed_run_id).first()
    if make_list is None:
        raise ReleaseError("There is no listed run {listed_run_id}.", listed_run_id=listed_run_id)
    _check_newest(make_list)
    # Read when the list is locked: another release may have been waited for.
    row = ListedRun.objects.select_related("make_list").get(pk=listed_run_id)
    if row.is_blocked:
        raise ReleaseError("The run of {filament} is blocked: its materials are missing.", filament=row.filament.code)
    if row.run_id is not None:
        raise ReleaseError("The run of {filament} is released already.", filament=row.filament.code)
    return row


def _check_newest(make_list: MakeList) -> None:
    """Refuse a list that another one overtook: its runs would be made on top of the newer list's."""
    newer = MakeList.objects.filter(as_of__gt=make_list.as_of, runs__run__isnull=False).first()
    if newer is not None:
        raise ReleaseError(
            "Runs of a newer list, as of {as_of:%Y-%m-%d %H:%M}, are released; compute a new one.", as_of=newer.as_of
        )


def _release(row: ListedRun, *, clock: Clock, by: AbstractBaseUser | None) -> Run:
    sizes = {size.sku.item.code: size.spools for size in row.sizes.select_related("sku__item")}
    if row.line is None or row.start is None or row.end is None:
        raise ReleaseError("The run of {filament} has no place on a line.", filament=row.filament.code)
    run = release_run(
        filament_code=row.filament.code,
        line_code=row.line.code,
        spools=sizes,
        planned_start=row.start,
        planned_end=row.end,
        drying_from=row.drying_from,
        hopper_code=row.hopper.code if row.hopper else None,
        changeover_from_code=row.changeover_from.code if row.changeover_from else None,
        changeover_min=Decimal(str(round(row.changeover_min, 1))),
        planned_purge_kg=Decimal(str(round(row.purge_kg, 3))),
        clock=clock,
        posted_by=by,
    )
    row.run = run
    row.save(update_fields=["run"])
    _fulfil_instructions(row, clock=clock)
    return run


def _fulfil_instructions(row: ListedRun, *, clock: Clock) -> None:
    """End pins and sizes by hand that this run carries out: the next list would make them again.

    Of the pins to places on its line it carries out the first one of its filament.
    """
    if row.is_pinned:
        live = PlannerInstruction.objects.filter(
            filament=row.filament, withdrawn_at__isnull=True, created_at__lte=row.make_list.as_of
        )
        done = live.filter(kind__in=["pin", "resize"], place__isnull=True)
        placed = live.filter(line=row.line, place__isnull=False).order_by("place")[:1]
        for rows in (done, live.filter(pk__in=[pin.pk for pin in placed])):
            rows.update(withdrawn_at=clock.known_at)


def _mark_if_all(make_list: MakeList) -> None:
    if not runs_to_release(make_list.pk).exists():
        _mark_released(make_list)


def _mark_released(make_list: MakeList) -> None:
    make_list.state = MakeList.State.RELEASED
    make_list.save(update_fields=["state"])
