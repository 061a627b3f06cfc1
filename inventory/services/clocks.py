"""Facts in their order: nothing happens to a record before it is there."""

from __future__ import annotations

from inventory.errors import InvalidInputError
from inventory.rules.clock import Clock
from inventory.rules.texts import Text


def check_not_before(clock: Clock, earlier: Clock, *, what: Text) -> None:
    """Refuse a fact that would have happened, or become known, before the one that it changes.

    Parameters
    ----------
    what
        The earlier fact, as a clause: run R000001 was started.

    Raises
    ------
    InvalidInputError
        With both instants.
    """
    if clock.occurred_at < earlier.occurred_at:
        raise InvalidInputError(
            "{stated} is before {what} at {since}.",
            stated=clock.occurred_at,
            what=what,
            since=earlier.occurred_at,
            pointer="/occurred_at",
        )
    if clock.known_at < earlier.known_at:
        raise InvalidInputError(
            "{stated} is before {what} and became known at {since}.",
            stated=clock.known_at,
            what=what,
            since=earlier.known_at,
            pointer="/occurred_at",
        )
