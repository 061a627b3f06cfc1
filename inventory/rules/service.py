"""Do we keep the promise? What counts as a miss, and why it happened. Pure.

A unit, line or order is missed if it did not ship complete on its due day. What a customer takes back before the
pick-up of that day is not counted; what the shop cancels, or a customer takes back later, is. Made-to-order lines
are judged apart, against the day they were quoted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

import pandas as pd

from inventory.rules.texts import gettext_noop


class MissReason(StrEnum):
    """Why a line did not ship complete on its day."""

    CANCELLED_BY_SHOP = "cancelled_by_shop"
    MOVED_BY_CUSTOMER = "moved_by_customer"
    ADDED_LATE = "added_late"
    NOT_SHIPPED = "not_shipped"
    WAITED = "waited"
    LOST = "lost"
    SUPPLY_SHORT = "supply_short"
    SUPPLY_LATE = "supply_late"
    PLANNED_LATE = "planned_late"
    NOTHING_PLANNED = "nothing_planned"
    NOT_RECORDED = "not_recorded"


# Marked for translators; whoever shows one translates it.
SENTENCES: Mapping[MissReason, str] = {
    MissReason.CANCELLED_BY_SHOP: gettext_noop("The shop cancelled it."),
    MissReason.MOVED_BY_CUSTOMER: gettext_noop("The customer has asked for a later day since."),
    MissReason.ADDED_LATE: gettext_noop("It was added to the order when the day was over."),
    MissReason.NOT_SHIPPED: gettext_noop("It was packed but not shipped."),
    MissReason.WAITED: gettext_noop("It was packed and waited for another line of its order."),
    MissReason.LOST: gettext_noop("It was held, lost or scrapped after it was promised."),
    MissReason.SUPPLY_SHORT: gettext_noop("A run was cancelled or gave fewer spools than were promised of it."),
    MissReason.SUPPLY_LATE: gettext_noop("Its supply came later than promised."),
    MissReason.PLANNED_LATE: gettext_noop("Its supply was planned for a later day from the start."),
    MissReason.NOTHING_PLANNED: gettext_noop("It was not on the shelf and nothing was planned for it."),
    MissReason.NOT_RECORDED: gettext_noop("The order was loaded with its outcome; the books do not know why."),
}


@dataclass(frozen=True)
class Share:
    """How many of how many; `share` is None where nothing was due."""

    complete: int
    due: int

    @property
    def share(self) -> float | None:
        return self.complete / self.due if self.due else None


@dataclass(frozen=True)
class Shares:
    """The same promise measured by units, by lines and by whole orders. They are never mixed."""

    units: Share
    lines: Share
    orders: Share


@dataclass(frozen=True)
class MissFacts:
    """What the books know of a missed line at the pick-up of its day.

    Parameters
    ----------
    missed, added_late : int
        Spools that did not ship in time; spools that were asked for after the pick-up.
    on_shelf, on_supply : int
        Spools that the line held of the shelf, and of runs that had not been shelved.
    was_in_time : bool
        It was once promised for its day or earlier.
    """

    missed: int
    added_late: int = 0
    on_shelf: int = 0
    on_supply: int = 0
    was_in_time: bool = False
    is_cancelled_by_shop: bool = False
    is_moved_by_customer: bool = False
    is_taken_from_shelf: bool = False
    is_taken_from_supply: bool = False
    is_history: bool = False
    waits_for_others: bool = False


def miss_reason(facts: MissFacts) -> MissReason:
    """Name the reason of a miss: the first that holds, from what is certain to what is left over.

    Spools that were added after the day explain themselves; the reason is that of the others, if there are any.
    """
    in_question = facts.missed - facts.added_late
    candidates = (
        (facts.is_cancelled_by_shop, MissReason.CANCELLED_BY_SHOP),
        (facts.is_history, MissReason.NOT_RECORDED),
        (facts.is_moved_by_customer, MissReason.MOVED_BY_CUSTOMER),
        (in_question <= 0, MissReason.ADDED_LATE),
        (facts.on_shelf >= in_question and facts.waits_for_others, MissReason.WAITED),
        (facts.on_shelf >= in_question, MissReason.NOT_SHIPPED),
        (facts.is_taken_from_shelf, MissReason.LOST),
        (facts.is_taken_from_supply, MissReason.SUPPLY_SHORT),
        (facts.on_supply > 0 and facts.was_in_time, MissReason.SUPPLY_LATE),
        (facts.on_supply > 0, MissReason.PLANNED_LATE),
    )
    return next((reason for holds, reason in candidates if holds), MissReason.NOTHING_PLANNED)


@dataclass(frozen=True)
class Miss:
    """A line that did not ship complete on its day."""

    order_id: int
    channel: str
    reference: str
    line_no: int
    sku_code: str
    day: date
    is_made_to_order: bool
    wanted: int
    in_time: int
    reason: MissReason

    @property
    def missed(self) -> int:
        return self.wanted - self.in_time

    @property
    def sentence(self) -> str:
        return SENTENCES[self.reason]


@dataclass(frozen=True)
class ReasonCount:
    """How much was missed for one reason."""

    reason: MissReason
    lines: int
    units: int

    @property
    def sentence(self) -> str:
        return SENTENCES[self.reason]


@dataclass(frozen=True)
class ServiceReport:
    """Shares of what was due from `first` to `last`, as of an instant.

    `not_yet_due_lines` have their pick-up ahead, `unquoted_lines` are made to order and have no day yet; neither is
    in any share.
    """

    first: date
    last: date
    as_of: datetime
    stocked: Shares
    made_to_order: Shares
    not_yet_due_lines: int
    unquoted_lines: int
    reasons: tuple[ReasonCount, ...]
    misses: tuple[Miss, ...]


def shares_of(lines: pd.DataFrame) -> Shares:
    """Measure judged lines: columns order_id, wanted > 0 and in_time <= wanted, in spools."""
    is_complete = lines["in_time"] >= lines["wanted"]
    orders = is_complete.groupby(lines["order_id"]).all()
    return Shares(
        units=Share(complete=int(lines["in_time"].sum()), due=int(lines["wanted"].sum())),
        lines=Share(complete=int(is_complete.sum()), due=len(lines)),
        orders=Share(complete=int(orders.sum()), due=len(orders)),
    )
