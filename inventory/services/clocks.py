"""Facts in their order: nothing happens to a record before it is there."""

from __future__ import annotations

from inventory.errors import InvalidInputError
from inventory.rules.clock import Clock


def check_not_before(clock: Clock, earlier: Clock, *, what: str) -> None:
    """Refuse a fact that would have happened, or become known, before the one that it changes.

    Raises
    ------
    InvalidInputError
        With both instants.
    """
    for stated, since, word in (
        (clock.occurred_at, earlier.occurred_at, ""),
        (clock.known_at, earlier.known_at, " and became known"),
    ):
        if stated < since:
            raise InvalidInputError(
                f"{stated.isoformat()} is before {what}{word} at {since.isoformat()}.", pointer="/occurred_at"
            )
