"""Lots of one filament: what each further spool avoids, and how far a lot is worth going on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.shortage import Floats


@dataclass(frozen=True)
class SpoolLadder:
    """The spools that a run could make, in the order in which it should take them: most worth per minute first.

    Parameters
    ----------
    size : (K,) index of the SKU within the filament, of each spool.
    worth, minutes : (K,) of each spool; worth per minute does not rise along the ladder.
    """

    size: NDArray[np.int64]
    worth: Floats
    minutes: Floats

    def __len__(self) -> int:
        return len(self.size)

    @cached_property
    def total_worth(self) -> Floats:
        """Worth of the first 1..K spools."""
        return np.cumsum(self.worth)

    @cached_property
    def total_minutes(self) -> Floats:
        """Winding minutes of the first 1..K spools."""
        return np.cumsum(self.minutes)

    def counts(self, length: int, *, sizes: int) -> tuple[int, ...]:
        """Return how many spools of each size the first `length` rungs hold."""
        return tuple(int(n) for n in np.bincount(self.size[:length], minlength=sizes))


def falling(marginal: Floats) -> Floats:
    """Return marginal gains averaged over blocks so that they do not rise (the concave hull of their sum).

    Misses are not convex in supply: the first spools of a backlog avoid little, the ones that clear it avoid much.
    Averaging over the block makes a lot that clears the backlog as attractive as it is.
    """
    if len(marginal) < 2 or np.all(np.diff(marginal) <= 1e-12):
        return marginal
    blocks: list[tuple[float, int]] = []
    for gain in marginal:
        total, count = float(gain), 1
        while blocks and blocks[-1][0] * count < total * blocks[-1][1]:
            earlier, many = blocks.pop()
            total, count = total + earlier, count + many
        blocks.append((total, count))
    return np.concatenate([np.full(count, total / count) for total, count in blocks])


def spool_ladder(misses_by_lot: Sequence[Floats], *, minutes: Sequence[float]) -> SpoolLadder:
    """Merge the sizes of a filament into one ladder.

    Parameters
    ----------
    misses_by_lot
        For each SKU, misses with lots of 0, 1, ... spools.
    minutes
        Winding minutes of one spool of each SKU.
    """
    gains = [falling(-np.diff(misses)) for misses in misses_by_lot]
    size = np.concatenate([np.full(len(g), i, dtype=np.int64) for i, g in enumerate(gains)])
    worth = np.concatenate(gains)
    each = np.concatenate([np.full(len(g), minutes[i]) for i, g in enumerate(gains)])
    order = np.argsort(-(worth / each), kind="stable")
    return SpoolLadder(size[order], worth[order], each[order])


def best_rate(ladder: SpoolLadder, *, fixed_min: float, least_min: float) -> tuple[float, int]:
    """Return the highest worth per minute of a lot, changeover included, and its length on the ladder.

    A lot shorter than `least_min` of winding is not looked at, unless the ladder ends there.
    """
    if not len(ladder):
        return 0.0, 0
    wound = ladder.total_minutes
    first = min(int(wound.searchsorted(least_min - 1e-9)), len(ladder) - 1)
    rate = ladder.total_worth[first:] / (fixed_min + wound[first:])
    best = int(rate.argmax())
    return float(rate[best]), first + best + 1


def economic_length(ladder: SpoolLadder, *, at_least: int, price_per_min: float) -> int:
    """Return the length of the lot that goes on while its next spool pays for its minutes at a price."""
    pays = int(np.searchsorted(-(ladder.worth / ladder.minutes), -price_per_min, side="right"))
    return max(at_least, pays)
