"""The answer to an order: what it gets from the shelf, what from which run, and when it ships."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from inventory.rules.texts import gettext_noop

CANCELLED = gettext_noop("The order is cancelled.")
NOTHING_PLANNED = gettext_noop("Neither on the shelf nor in a planned run: %(parts)s (spools).")
PART = gettext_noop("%(n)d of %(sku)s")


@dataclass(frozen=True)
class SupplyPromise:
    """Spools of a run that belong to the line before they reach the shelf."""

    run_code: str
    quantity: int
    ship_day: date


@dataclass(frozen=True)
class LinePromise:
    """One line as it stands. `unpromised` spools are neither on the shelf nor in a planned run."""

    line_no: int
    sku_id: int
    sku_code: str
    quantity: int
    shipped: int
    from_shelf: int
    from_supply: tuple[SupplyPromise, ...]
    promised_day: date | None
    quoted_day: date | None
    shipped_complete_day: date | None
    earliest_capacity_day: date | None = None

    @property
    def unpromised(self) -> int:
        promised = self.from_shelf + sum(supply.quantity for supply in self.from_supply)
        return self.quantity - self.shipped - promised

    @property
    def ship_day(self) -> date | None:
        """The day on which the line shipped complete or, as promised, will."""
        return self.shipped_complete_day or (None if self.unpromised else self.promised_day)


@dataclass(frozen=True)
class OrderReceipt:
    """An order as it stands.

    `ship_day` is the day of its last line. Where something is unpromised it is None: `reason` says what is missing and
    `earliest_capacity_day` when the lines could make it, None where they cannot within their horizon.
    """

    order_id: int
    channel: str
    reference: str
    kind: str
    state: str
    received_at: datetime
    wanted_day: date | None
    due_day: date
    may_part_ship: bool
    ship_to: str
    lines: tuple[LinePromise, ...]
    earliest_capacity_day: date | None = None
    replayed: bool = False

    @property
    def version(self) -> str:
        """Another text for every state of the order and its promises; when capacity could give it does not count."""
        state = replace(
            self,
            received_at=self.received_at.astimezone(UTC),
            lines=tuple(
                replace(line, from_supply=tuple(sorted(line.from_supply, key=repr)), earliest_capacity_day=None)
                for line in self.lines
            ),
            earliest_capacity_day=None,
            replayed=False,
        )
        return hashlib.sha256(repr(state).encode()).hexdigest()[:32]

    @property
    def unpromised_lines(self) -> tuple[LinePromise, ...]:
        return tuple(line for line in self.lines if line.unpromised)

    @property
    def ship_day(self) -> date | None:
        return last_day([line.ship_day for line in self.lines if line.quantity])

    @property
    def reason(self) -> str:
        """Why there is no ship day, "" where there is one."""
        if self.state == "cancelled":
            return CANCELLED
        return missing_supply(self.unpromised_lines)


def missing_supply(lines: Iterable[LinePromise]) -> str:
    """Say in one sentence what nothing is planned for, "" if nothing is missing."""
    parts = [PART % {"n": line.unpromised, "sku": line.sku_code} for line in lines]
    return NOTHING_PLANNED % {"parts": ", ".join(parts)} if parts else ""


def last_day(days: Sequence[date | None]) -> date | None:
    """The latest of the days, None if there is none or one of them is unknown."""
    known = [day for day in days if day is not None]
    return max(known) if known and len(known) == len(days) else None
