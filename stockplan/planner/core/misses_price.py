"""What a change of plan costs in misses."""

from __future__ import annotations


class MissesPrice:
    """The price of what has expected misses before and after it."""

    misses_before: float
    misses_after: float

    @property
    def price(self) -> float:
        """Expected misses more than before."""
        return self.misses_after - self.misses_before

    @property
    def gain(self) -> float:
        """Expected misses fewer than before."""
        return -self.price
