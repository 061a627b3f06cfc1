"""Random numbers of the compiled search, from a state that the caller seeds."""

from __future__ import annotations

import math

import numpy as np

from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.problem import Ints


@compiled
def draw(rng: Ints) -> int:
    """Return 32 random bits (splitmix64, Steele, Lea & Flood 2014, from memory)."""
    rng[0] += np.uint64(0x9E3779B97F4A7C15)
    z = rng[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.int64((z ^ (z >> np.uint64(31))) >> np.uint64(32))  # type: ignore[return-value]


@compiled
def below(rng: Ints, n: int) -> int:
    """Return a random number of 0..n-1."""
    return (draw(rng) * n) >> 32


@compiled
def uniform(rng: Ints) -> float:
    """Return a random number in (0, 1)."""
    return (draw(rng) + 0.5) / 4294967296.0


@compiled
def step(rng: Ints, most: int) -> int:
    """Return a step of 1..most, small ones as likely as large ones on a scale of powers of two."""
    reach = most
    while reach > 1 and (draw(rng) & 1) == 0:
        reach >>= 1
    return 1 + below(rng, reach)


@compiled
def most_rise(rng: Ints, temperature: float) -> float:
    """Draw the rise of the cost below which a move is taken: a rise is, with probability exp(-rise / temperature)."""
    return -temperature * math.log(uniform(rng))


@compiled
def is_refused(rng: Ints, change: float, temperature: float) -> bool:
    """Say whether a change of the cost is refused."""
    return change > 0.0 and change >= most_rise(rng, temperature)
