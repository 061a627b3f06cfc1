"""Reading a run for change, and checking the spools that a request names for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import Filament, Run, Sku
from inventory.rules.clock import Clock
from inventory.services.clocks import check_not_before
from inventory.services.lookup import skus_by_code

# More spools of one size than any run winds; catches a mistyped figure.
MOST_SPOOLS = 100_000


class RunStateError(ConflictError):
    """The run is not in a state in which this can be done."""

    code = "run_state"


def locked_run(run_code: str, *, states: Collection[Run.State], doing: str, clock: Clock) -> Run:
    """Return a run, locked, with its line and everything that its bill of materials needs. One query.

    Raises
    ------
    NotFoundError
        If there is no such run.
    RunStateError
        If it is in another state.
    InvalidInputError
        If what is done would be earlier than its release, or than its start where it has started.
    """
    runs = Run.objects.select_related(
        "line", "filament__material__resin_item", "filament__colour__concentrate_item", "hopper"
    )
    run = runs.select_for_update(of=("self",)).filter(code=run_code).first()
    if run is None:
        raise NotFoundError(f"Run {run_code!r} does not exist.", pointer="/run")
    if run.state not in states:
        wanted = " or ".join(str(state.label) for state in states)
        raise RunStateError(f"Run {run_code} is {run.get_state_display()}; only a {wanted} run can be {doing}.")
    check_not_before(clock, _since(run), what=f"run {run_code} was {'started' if run.started_at else 'released'}")
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
            raise InvalidInputError(f"SKU {code} is not wound from {filament.code}.", pointer=f"{pointer}/{code}")
        if not 0 <= spools[code] <= MOST_SPOOLS:
            raise InvalidInputError(
                f"{spools[code]} spools of {code}: 0 to {MOST_SPOOLS} are allowed.", pointer=f"{pointer}/{code}"
            )
    return skus
