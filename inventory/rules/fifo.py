"""First in, first out by lot. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class LotStock:
    """What can be taken of one lot at one place."""

    place_id: int
    lot_id: int
    quantity: Decimal


@dataclass(frozen=True)
class FifoTake:
    """Parts taken of lots in their order, and what they could not cover."""

    parts: tuple[LotStock, ...]
    shortfall: Decimal


def take_fifo(stock: Iterable[LotStock], quantity: Decimal) -> FifoTake:
    """Take a quantity from lots in the order given (oldest first).

    Examples
    --------
    >>> old, new = LotStock(1, 7, Decimal(3)), LotStock(1, 8, Decimal(5))
    >>> take = take_fifo([old, new], Decimal(4))
    >>> [(part.lot_id, int(part.quantity)) for part in take.parts], int(take.shortfall)
    ([(7, 3), (8, 1)], 0)
    """
    parts = []
    for lot in stock:
        part = min(lot.quantity, quantity)
        if part > 0:
            parts.append(LotStock(place_id=lot.place_id, lot_id=lot.lot_id, quantity=part))
            quantity -= part
    return FifoTake(parts=tuple(parts), shortfall=quantity)
