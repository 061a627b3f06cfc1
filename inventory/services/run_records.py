"""Reading a run for change, and checking the spools that a request names for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Filament, Run, Sku
from inventory.rules.clock import Clock
from inventory.rules.texts import Text, text
from inventory.services.clocks import check_not_before
from inventory.services.lookup import skus_by_code

# More spools of one size than any run winds; catches a mistyped figure.
MOST_SPOOLS = 100_000


class RunStateError(ConflictError):
    """The run is not in a state in which this can be done."""

    code = "run_state"


def locked_run(run_code: str, *, states: Collection[Run.State], only: Text, clock: Clock) -> Run:
    """Return a run as `run_in_state` does, and refuse what would be earlier than its start. One query.

    Raises
    ------
    NotFoundError, RunStateError
        As `run_in_state`.
    InvalidInputError
        If what is done would be earlier than its release, or than its start where it has started.
    """
    run = run_in_state(run_code, states=states, only=only)
    was_started, was_released = (
        text("run {run} was started", run=run_code),
        text("run {run} was released", run=run_code),
    )
    check_not_before(clock, _since(run), what=was_started if run.started_at else was_released)
    return run


def run_in_state(run_code: str, *, states: Collection[Run.State], only: Text) -> Run:
    """Return a run, locked, with its line and everything that its bill of materials needs. One query.

    Raises
    ------
    NotFoundError
        If there is no such run.
    RunStateError
        If it is in another state.
    """
    runs = Run.objects.select_related(
        "line", "filament__material__resin_item", "filament__colour__concentrate_item", "hopper"
    )
    run = runs.select_for_update(of=("self",)).filter(code=run_code).first()
    if run is None:
        raise NotFoundError("Run {run!r} does not exist.", run=run_code, pointer="/run")
    if run.state not in states:
        raise RunStateError("Run {run} is {state}; {only}.", run=run_code, state=run.get_state_display(), only=only)
    return run


def _since(run: Run) -> Clock:
    if run.started_at is not None and run.started_known_at is not None:
        return Clock(run.started_at, run.started_known_at)
    return Clock(run.released_at, run.released_known_at)


def skus_of_run(filament: Filament, spools: Mapping[str, int], *, pointer: str) -> dict[str, Sku]:
    """Return the SKUs that a request names for a run of a filament, by code. One query.

    Raises
    ------
    NotFoundError
        If a SKU does not exist.
    InvalidInputError
        If one is of another filament, or a count is negative or absurd.
    """
    skus = skus_by_code(spools, pointer=pointer) if spools else {}
    for code, sku in skus.items():
        if sku.filament_id != filament.pk:
            raise InvalidInputError(
                "SKU {code} is not wound from {filament}.",
                code=code,
                filament=filament.code,
                pointer=f"{pointer}/{code}",
            )
        if not 0 <= spools[code] <= MOST_SPOOLS:
            raise InvalidInputError(
                "{spools} spools of {code}: 0 to {most} are allowed.",
                spools=spools[code],
                code=code,
                most=MOST_SPOOLS,
                pointer=f"{pointer}/{code}",
            )
    return skus
