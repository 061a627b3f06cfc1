"""The books retold in a few counters, independently of them: what a state machine expects to find there."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

NATURAL, BLACK = "PETG-NAT-1000", "PLA-BLACK-1000"
SKUS = (NATURAL, BLACK)
# Natural needs no oven: it is packed as it was wound.
NEEDS_OVEN = {NATURAL: False, BLACK: True}


@dataclass
class ModelOrder:
    """An order by SKU: what is wanted and what has left."""

    may_part_ship: bool
    wanted: Counter[str]
    shipped: Counter[str] = field(default_factory=Counter)
    state: str = "open"

    def open_spools(self, sku: str) -> int:
        """Spools that are still to leave."""
        return self.wanted[sku] - self.shipped[sku] if self.state == "open" else 0

    def drop_the_rest(self) -> None:
        """What has not left is no longer wanted; an order of which something has left counts as shipped."""
        self.state = "shipped" if self.shipped.total() else "cancelled"
        self.wanted = Counter({sku: self.shipped[sku] for sku in self.wanted})

    def close_if_complete(self) -> None:
        """Nothing is left to ship."""
        if self.wanted == self.shipped:
            self.state = "shipped"


@dataclass
class ModelRun:
    """A run of one SKU: spools that were ordered of it, and where those that it wound are."""

    sku: str
    planned: int
    state: str = "released"
    wound: int = 0
    drying: int = 0
    held_of_pipeline: int = 0
    held_of_shelf: int = 0
    is_held: bool = False

    @property
    def awaited(self) -> int:
        """Spools that are still to reach the shelf."""
        if self.state in ("released", "started"):
            return self.planned
        return self.wound + self.drying

    @property
    def held(self) -> int:
        """Spools on hold."""
        return self.held_of_pipeline + self.held_of_shelf


@dataclass
class Model:
    """Stock, orders and runs. Every spool was opened, found or made, and is in exactly one place afterwards."""

    shelf: Counter[str] = field(default_factory=Counter)
    came: Counter[str] = field(default_factory=Counter)
    gone: Counter[str] = field(default_factory=Counter)
    orders: dict[int, ModelOrder] = field(default_factory=dict)
    runs: dict[str, ModelRun] = field(default_factory=dict)

    def runs_of(self, sku: str) -> list[ModelRun]:
        """Runs that wind a SKU."""
        return [run for run in self.runs.values() if run.sku == sku]

    def supply(self, sku: str) -> int:
        """Spools that can be promised: on the shelf and awaited there."""
        return self.shelf[sku] + sum(run.awaited for run in self.runs_of(sku))

    def open_spools(self, sku: str) -> int:
        """Spools that customers still wait for."""
        return sum(order.open_spools(sku) for order in self.orders.values())

    def in_plant(self, sku: str) -> int:
        """Spools that exist and have not left."""
        return self.shelf[sku] + sum(run.wound + run.drying + run.held for run in self.runs_of(sku))
