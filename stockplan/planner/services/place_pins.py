"""Pins of listed runs to their places on a line, which the next list respects."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import takewhile

from django.contrib.auth.models import AbstractBaseUser

from inventory.models import Filament, Line
from inventory.rules.clock import Clock
from stockplan.planner.core.run_order import Orders, RunOrderError, order_of
from stockplan.planner.models import PlannerInstruction
from stockplan.planner.selectors.line_orders import LineOrders

# Keys of the runs of a line that are pinned to its first places, by line.
Places = Mapping[str, tuple[str, ...]]


def places_to_pin(orders: LineOrders, order: Orders) -> Places:
    """Return the runs that must be pinned to their places, by line, of the lines whose unreleased runs change order.

    Those up to the last one that changes its order, and up to the last one that is pinned already: what stands before
    a run decides on its place, what stands behind is the next list's choice.
    """
    released = {run.key for run in orders.waiting if run.is_released}
    present = {line: _listed(keys, released) for line, keys in order_of(orders.waiting).items()}
    found = {}
    for line in present.keys() | order.keys():
        was, now = present.get(line, ()), _listed(order.get(line, ()), released)
        if was != now:
            found[line] = now[: max(_last_changed(was, now), orders.placed_pins.get(line, 0))]
    return found


def _last_changed(was: Sequence[str], now: Sequence[str]) -> int:
    """Return the place of the last run that does not stand as before. To move up after one that left is to stand so."""
    same = len(list(takewhile(lambda pair: pair[0] == pair[1], zip(reversed(was), reversed(now), strict=False))))
    changed = now[: len(now) - same]
    return 0 if list(changed) == list(was[: len(changed)]) else len(changed)


def _listed(keys: Iterable[str], released: set[str]) -> tuple[str, ...]:
    return tuple(key for key in keys if key not in released)


def pin_to_places(orders: LineOrders, pinned: Places, *, clock: Clock, by: AbstractBaseUser | None) -> None:
    """Pin runs to their places, by line; older pins to places of these lines end."""
    runs = {run.key: run for run in orders.waiting}
    live = PlannerInstruction.objects.filter(withdrawn_at__isnull=True, place__isnull=False, line__code__in=pinned)
    live.update(withdrawn_at=clock.known_at)
    line_ids = dict(Line.objects.filter(code__in=pinned).values_list("code", "pk"))
    filaments = {runs[key].filament for keys in pinned.values() for key in keys}
    filament_ids = dict(Filament.objects.filter(code__in=filaments).values_list("code", "pk"))
    PlannerInstruction.objects.bulk_create(
        PlannerInstruction(
            kind=PlannerInstruction.Kind.PIN,
            filament_id=filament_ids[runs[key].filament],
            line_id=line_ids[line],
            place=place,
            sizes=dict(runs[key].sizes),
            last_day=orders.last_day,
            created_at=clock.known_at,
            created_by_id=None if by is None else by.pk,
        )
        for line, keys in sorted(pinned.items())
        for place, key in enumerate(keys, start=1)
    )


def check_forbidden(orders: LineOrders, pinned: Places) -> None:
    """Refuse to pin a run whose filament was forbidden after the list was made.

    Raises
    ------
    RunOrderError
        If one was.
    """
    forbidden = set(
        PlannerInstruction.objects.filter(withdrawn_at__isnull=True, kind=PlannerInstruction.Kind.FORBID).values_list(
            "filament__code", flat=True
        )
    )
    runs = {run.key: run for run in orders.waiting}
    for keys in pinned.values():
        for key in keys:
            if runs[key].filament in forbidden:
                raise RunOrderError(
                    "{filament} was forbidden since this list; compute a new one first.", filament=runs[key].filament
                )
