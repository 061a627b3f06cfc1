"""What a run turns into what: kilograms of resin and concentrate into spools, scrap and purge. Pure, exact decimals."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

GRAM_KG = Decimal("0.001")


@dataclass(frozen=True)
class WoundSpools:
    """Spools of one size.

    Parameters
    ----------
    count : int
        How many, >= 0.
    net_g : int
        Net mass on one spool in g, as sold.
    give_away_g : int
        Wound on top of it on average, in g.
    """

    count: int
    net_g: int
    give_away_g: int = 0

    def __post_init__(self) -> None:
        if self.count < 0 or self.net_g <= 0 or self.give_away_g < 0:
            raise ValueError(
                f"count >= 0, net_g > 0 and give_away_g >= 0 needed, received {self.count}, {self.net_g}, "
                f"{self.give_away_g}"
            )

    @property
    def mass_kg(self) -> Decimal:
        """Polymer on all of them: count x (net + give-away)."""
        return Decimal(self.count * (self.net_g + self.give_away_g)) / 1000


@dataclass(frozen=True)
class MeltBill:
    """What a run draws from the store for its melt, in kg, to the gram. The two add up to the mass that came out."""

    resin_kg: Decimal
    concentrate_kg: Decimal

    @property
    def mass_kg(self) -> Decimal:
        return self.resin_kg + self.concentrate_kg


def spools_kg(spools: Iterable[WoundSpools]) -> Decimal:
    """Polymer on spools of several sizes, in kg."""
    return sum((size.mass_kg for size in spools), Decimal(0))


def melt_bill(*, good_kg: Decimal, scrap_kg: Decimal, purge_kg: Decimal, let_down_share: Decimal) -> MeltBill:
    """Split what came out of a run into resin and concentrate.

    out = good + scrap + purge; concentrate = out x s; resin = out x (1 - s), with s the let-down share. The
    concentrate is rounded to the gram and the resin takes the rest, so that nothing is lost in rounding.

    Parameters
    ----------
    good_kg, scrap_kg, purge_kg : Decimal
        Masses >= 0 in kg.
    let_down_share : Decimal
        Share of concentrate in the melt, 0 <= s < 1; 0 for natural.

    Raises
    ------
    ValueError
        If a mass is negative or the share outside its range.

    Notes
    -----
    What was purged is taken to be of this run's own melt. Moisture, and the melt of the filament before that a
    changeover pushes out, are not modelled.

    Examples
    --------
    >>> bill = melt_bill(good_kg=Decimal(95), scrap_kg=Decimal(3), purge_kg=Decimal(2), let_down_share=Decimal("0.02"))
    >>> bill.resin_kg, bill.concentrate_kg
    (Decimal('98.000'), Decimal('2.000'))
    """
    if min(good_kg, scrap_kg, purge_kg) < 0:
        raise ValueError(f"masses must be >= 0 kg, received good {good_kg}, scrap {scrap_kg}, purge {purge_kg}")
    if not 0 <= let_down_share < 1:
        raise ValueError(f"let_down_share must be in [0, 1), received {let_down_share}")
    out_kg = (good_kg + scrap_kg + purge_kg).quantize(GRAM_KG, ROUND_HALF_EVEN)
    concentrate_kg = (out_kg * let_down_share).quantize(GRAM_KG, ROUND_HALF_EVEN)
    return MeltBill(resin_kg=out_kg - concentrate_kg, concentrate_kg=concentrate_kg)


def is_mass_balanced(*, in_kg: Decimal, out_kg: Decimal, tolerance_share: Decimal) -> bool:
    """Say whether |in - out| <= tolerance x in, the mass check of a run.

    Examples
    --------
    >>> is_mass_balanced(in_kg=Decimal(100), out_kg=Decimal(98), tolerance_share=Decimal("0.02"))
    True
    >>> is_mass_balanced(in_kg=Decimal(100), out_kg=Decimal("97.999"), tolerance_share=Decimal("0.02"))
    False
    """
    return abs(in_kg - out_kg) <= tolerance_share * in_kg
