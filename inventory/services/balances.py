"""Balances, kept in the transaction of the movement that changes them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from inventory.errors import ConflictError
from inventory.models import Balance, Lot, MovementLine, Place
from inventory.rules.clock import Clock
from inventory.rules.fifo import LotStock
from inventory.rules.flows import plain
from inventory.rules.history import LaterChange, lowest_since

Key = tuple[int, int]
"""Place id, lot id."""
Later = dict[Key, list[LaterChange]]
HELD_LOTS_MAY_BE_AT = (Place.Kind.HOLD, Place.Kind.RETURNS, Place.Kind.CUSTOMER)


class NotEnoughStockError(ConflictError):
    """A physical place would hold less than nothing, now or at a past instant."""

    code = "not_enough_stock"


@dataclass(frozen=True)
class BalanceChange:
    """Net change of one balance by one movement."""

    place: Place
    lot: Lot
    delta: Decimal

    @property
    def key(self) -> Key:
        return (self.place.pk, self.lot.pk)


def apply_changes(changes: Sequence[BalanceChange], *, clock: Clock) -> None:
    """Add the changes to the balances. Four queries at most, whatever the number of lines.

    Locks the rows of Balance in the order of place and lot. Write the movement's lines after this call: the
    history that it checks must not hold them yet.

    Raises
    ------
    NotEnoughStockError
        If a physical place would go below zero now, or would have been below zero at any instant since the
        movement, on either clock.
    """
    by_key = {change.key: change for change in sorted(changes, key=lambda change: change.key)}
    rows = _lock_rows(by_key)
    for key, change in by_key.items():
        rows[key].quantity += change.delta
    _refuse_negative([change for change in changes if change.place.is_physical and change.delta < 0], rows, clock=clock)
    Balance.objects.bulk_update([rows[key] for key in by_key], ["quantity"])


def lock_lots(
    *, item_ids: Iterable[int], places: Sequence[Place], clock: Clock, lot_id: int | None = None
) -> dict[int, list[LotStock]]:
    """What can be taken by item, oldest lot first, without making a past balance negative. Two queries.

    Held lots are offered only where they may be. Places are used in the order given. Locks the balances.
    """
    rank = {row.pk: number for number, row in enumerate(places)}
    rows = Balance.objects.filter(place_id__in=rank, item_id__in=list(item_ids), quantity__gt=0)
    rows = rows.filter(Q(lot__is_held=False) | Q(place__kind__in=HELD_LOTS_MAY_BE_AT))
    if lot_id is not None:
        rows = rows.filter(lot_id=lot_id)
    locked = list(rows.select_related("lot").order_by("place_id", "lot_id").select_for_update(of=("self",)))
    later = _later_changes({row.lot_id for row in locked}, clock=clock)
    stock: dict[int, list[LotStock]] = defaultdict(list)
    for row in sorted(locked, key=lambda row: (rank[row.place_id], row.lot.created_at, row.lot_id)):
        free = _lowest(row.quantity, (row.place_id, row.lot_id), later)
        if free > 0:
            stock[row.item_id].append(LotStock(place_id=row.place_id, lot_id=row.lot_id, quantity=free))
    return stock


def _lock_rows(by_key: Mapping[Key, BalanceChange]) -> dict[Key, Balance]:
    places, lots = {key[0] for key in by_key}, {key[1] for key in by_key}
    wanted = Balance.objects.filter(place_id__in=places, lot_id__in=lots)
    known = set(wanted.values_list("place_id", "lot_id"))
    if missing := [change for key, change in by_key.items() if key not in known]:
        # In the same order as the lock below, so that two first movements of a lot wait instead of deadlocking.
        rows = (
            Balance(
                place=change.place,
                lot=change.lot,
                item_id=change.lot.item_id,
                is_physical=change.place.is_physical,
                quantity=Decimal(0),
            )
            for change in missing
        )
        Balance.objects.bulk_create(rows, ignore_conflicts=True)
    locked = wanted.order_by("place_id", "lot_id").select_for_update()
    return {(row.place_id, row.lot_id): row for row in locked}


def _refuse_negative(losses: Sequence[BalanceChange], rows: Mapping[Key, Balance], *, clock: Clock) -> None:
    if not losses:
        return
    later = _later_changes({loss.lot.pk for loss in losses}, clock=clock)
    for loss in losses:
        lowest = _lowest(rows[loss.key].quantity, loss.key, later)
        if lowest < 0:
            raise NotEnoughStockError(
                "Lot {lot} of {item}, {place}: {asked} asked for at {occurred_at}, but only {there} is "
                "there then and since.",
                lot=loss.lot.code,
                item=loss.lot.item.code,
                place=loss.place.get_kind_display(),
                asked=plain(-loss.delta),
                occurred_at=clock.occurred_at,
                there=plain(lowest - loss.delta),
            )


def _later_changes(lot_ids: set[int], *, clock: Clock) -> tuple[Later, Later]:
    """Changes after the fact: by when they happened, and by when they became known. One query."""
    late = Q(movement__occurred_at__gt=clock.occurred_at) | Q(movement__known_at__gt=clock.known_at)
    lines = MovementLine.objects.filter(late, lot_id__in=lot_ids).select_related("movement")
    happened: Later = defaultdict(list)
    learned: Later = defaultdict(list)
    for line in lines:
        for place_id, delta in ((line.from_place_id, -line.quantity), (line.to_place_id, line.quantity)):
            key, movement = (place_id, line.lot_id), line.movement
            if movement.occurred_at > clock.occurred_at:
                happened[key].append(LaterChange(movement.occurred_at, movement.pk, delta))
            if movement.known_at > clock.known_at:
                learned[key].append(LaterChange(movement.known_at, movement.pk, delta))
    return happened, learned


def _lowest(now: Decimal, key: Key, later: tuple[Later, Later]) -> Decimal:
    return min(lowest_since(now, changes.get(key, ())) for changes in later)
