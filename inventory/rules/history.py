"""How low a balance was at any time since an instant. Pure: the guard of back-dated movements."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal


@dataclass(frozen=True, order=True)
class LaterChange:
    """Change of one balance by one movement. Movements of one instant count in the order of their ids."""

    instant: datetime
    movement_id: int
    delta: Decimal


def lowest_since(now: Decimal, later: Iterable[LaterChange]) -> Decimal:
    """Lowest value of a balance from an instant until now.

    Parameters
    ----------
    now : Decimal
        The balance after all movements.
    later : iterable of LaterChange
        Changes after the instant, in any order; none: nothing happened since, the answer is `now`.

    Notes
    -----
    Walks back from the present: the balance before a change is the balance after it less its delta. The lines of one
    movement take effect together.

    Examples
    --------
    Ten came in after the instant and two are left now, so eight were used after that, and before it there were none.

    >>> from datetime import datetime, timezone
    >>> noon = datetime(2027, 3, 1, 12, tzinfo=timezone.utc)
    >>> one = datetime(2027, 3, 1, 13, tzinfo=timezone.utc)
    >>> lowest_since(Decimal(2), [LaterChange(noon, 1, Decimal(10)), LaterChange(one, 2, Decimal(-8))])
    Decimal('0')
    """
    lowest = balance = now
    previous: tuple[datetime, int] | None = None
    for change in sorted(later, reverse=True):
        key = (change.instant, change.movement_id)
        if previous is not None and key != previous:
            lowest = min(lowest, balance)
        balance -= change.delta
        previous = key
    return min(lowest, balance)
