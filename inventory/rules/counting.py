"""Cycle counts: when a count settles, how right the records are, what to count next. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import groupby

# Pareto classes by the value of a year's demand; common practice, no source.
A_SHARE, B_SHARE = Decimal("0.80"), Decimal("0.95")
# What is taken for granted before a plant has counted anything: one wrong record in a hundred movements.
PRIOR_ERRORS, PRIOR_MOVEMENTS = 1, 100


class ValueClass(StrEnum):
    """Class of a SKU by the value of its yearly demand."""

    A = "A"
    B = "B"
    C = "C"


@dataclass(frozen=True)
class CountResult:
    """What was counted and what the books said at that instant, both in spools."""

    counted: int
    book: int

    @property
    def difference(self) -> int:
        return self.counted - self.book

    def is_within(self, tolerance_share: Decimal) -> bool:
        """Say whether |counted - book| <= tolerance x book."""
        return abs(self.difference) <= tolerance_share * self.book

    def settles_after(self, earlier: CountResult | None, *, tolerance_share: Decimal) -> bool:
        """Say whether this count is believed.

        It is if it is within the tolerance, or if the count before it found the same difference to the books. The
        differences are compared and not the counts, because stock may have moved between the two.

        Examples
        --------
        >>> first, second = CountResult(counted=8, book=10), CountResult(counted=5, book=7)
        >>> first.settles_after(None, tolerance_share=Decimal(0))
        False
        >>> second.settles_after(first, tolerance_share=Decimal(0))
        True
        """
        agrees = earlier is not None and earlier.difference == self.difference
        return agrees or self.is_within(tolerance_share)


@dataclass(frozen=True)
class SettledCount:
    """A settled line with the group that it is reported under: a shelf place or a class."""

    group: str
    result: CountResult
    tolerance_share: Decimal


@dataclass(frozen=True)
class Accuracy:
    """How right the records of a group were when they were counted.

    Attributes
    ----------
    counted_lines, exact_lines, within_lines : int
        Settled lines, those without a difference, those within the tolerance of their sheet.
    book_spools, net_spools, absolute_spools : int
        In the books of these lines; sum of the differences with and without their signs.
    """

    group: str
    counted_lines: int
    exact_lines: int
    within_lines: int
    book_spools: int
    net_spools: int
    absolute_spools: int

    @property
    def accuracy_share(self) -> float:
        """Share of the settled lines that were within the tolerance."""
        return self.within_lines / self.counted_lines


def accuracy_of(counts: Iterable[SettledCount]) -> tuple[Accuracy, ...]:
    """Return the accuracy of each group, in the order of the groups' names."""
    by_group = groupby(sorted(counts, key=lambda count: count.group), key=lambda count: count.group)
    return tuple(_accuracy(group, list(rows)) for group, rows in by_group)


def value_classes(yearly_value: Mapping[int, Decimal]) -> dict[int, ValueClass]:
    """Return the class of each SKU: A until 80 % of the value is reached, B until 95 %, then C.

    Parameters
    ----------
    yearly_value : mapping of SKU id to Decimal
        Value of a year's demand, >= 0. Without demand at all every SKU is C.

    Examples
    --------
    >>> found = value_classes({1: Decimal(70), 2: Decimal(20), 3: Decimal(9), 4: Decimal(1)})
    >>> [str(found[sku]) for sku in (1, 2, 3, 4)]
    ['A', 'A', 'B', 'C']
    """
    total = sum(yearly_value.values(), Decimal(0))
    before, classes = Decimal(0), {}
    for sku, value in sorted(yearly_value.items(), key=lambda pair: (-pair[1], pair[0])):
        if before < A_SHARE * total:
            classes[sku] = ValueClass.A
        elif before < B_SHARE * total:
            classes[sku] = ValueClass.B
        else:
            classes[sku] = ValueClass.C
        before += value
    return classes


def error_share(*, wrong_counts: int, movements: int) -> float:
    """Return the share of movements that leave a record wrong, from the counts so far.

    (wrong + a) / (movements + n) with a = 1 and n = 100: the mean of a beta distribution that starts at one in a
    hundred and that the plant's own counts take over.

    Parameters
    ----------
    wrong_counts : int
        Settled counts with a difference.
    movements : int
        Movements of the counted SKUs on the shelf up to their last count.
    """
    return (wrong_counts + PRIOR_ERRORS) / (movements + PRIOR_MOVEMENTS)


def chance_wrong(*, movements: int, error_share: float) -> float:
    """Return the chance that a record is wrong after so many movements since it was last right.

    1 - (1 - e)^m: every movement may spoil it, independently of the others, and none mends it.

    Examples
    --------
    >>> chance_wrong(movements=0, error_share=0.01), chance_wrong(movements=2, error_share=0.5)
    (0.0, 0.75)
    """
    return 1.0 - (1.0 - error_share) ** movements


def count_risk(*, chance_wrong: float, order_lines_per_day: float) -> float:
    """Return the order lines a day that are promised from a wrong record, the worth of counting it now.

    Examples
    --------
    >>> count_risk(chance_wrong=0.5, order_lines_per_day=4)
    2.0
    """
    return chance_wrong * order_lines_per_day


def _accuracy(group: str, counts: list[SettledCount]) -> Accuracy:
    results = [count.result for count in counts]
    return Accuracy(
        group=group,
        counted_lines=len(counts),
        exact_lines=sum(result.difference == 0 for result in results),
        within_lines=sum(count.result.is_within(count.tolerance_share) for count in counts),
        book_spools=sum(result.book for result in results),
        net_spools=sum(result.difference for result in results),
        absolute_spools=sum(abs(result.difference) for result in results),
    )
