"""How far a long step is: what is being done, how much of it is done, how much there is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]


def no_progress(_what: str, _done: int, _total: int) -> None:
    """Show nothing."""
