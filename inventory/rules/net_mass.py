"""Net mass of spools against what the label says. Pure, exact decimals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

# Nominal g up to and including -> tolerable negative error: a share of it, but no more than so many g. The directive
# prints share and g as bands of their own; each of its g is the share of the band before at that band's end.
_BANDS = (
    (100, Decimal("0.09"), Decimal("4.5")),
    (300, Decimal("0.045"), Decimal(9)),
    (1_000, Decimal("0.03"), Decimal(15)),
    (10_000, Decimal("0.015"), Decimal(150)),
)
LEAST_G, MOST_G = 5, 10_000
SHORT_SHARE_ALLOWED = Decimal("0.025")


@dataclass(frozen=True)
class NetMassCheck:
    """Weighed spools of one lot against their nominal net mass.

    Attributes
    ----------
    short : int
        Spools lighter than nominal by more than the tolerable negative error.
    far_short : int
        Spools lighter by more than twice that.
    """

    weighed: int
    mean_net_g: Decimal
    least_net_g: Decimal
    nominal_g: int
    tolerable_error_g: Decimal
    short: int
    far_short: int

    @property
    def passes(self) -> bool:
        """Mean not below nominal, at most 2.5 % of the spools short, none far short."""
        few = self.short <= SHORT_SHARE_ALLOWED * self.weighed
        return self.mean_net_g >= self.nominal_g and few and self.far_short == 0


def tolerable_negative_error_g(nominal_g: int) -> Decimal:
    """Return how much lighter than its label one package may be, in g.

    Parameters
    ----------
    nominal_g : int
        Net mass on the label, 5 to 10,000 g.

    Raises
    ------
    ValueError
        Outside that range, which the directive does not cover.

    References
    ----------
    Council Directive 76/211/EEC, annex I, 2.4; a percentage is rounded up to 0.1 g.

    Examples
    --------
    >>> tolerable_negative_error_g(1000), tolerable_negative_error_g(250)
    (Decimal('15'), Decimal('9'))
    """
    if not LEAST_G <= nominal_g <= MOST_G:
        raise ValueError(f"nominal mass must be {LEAST_G} to {MOST_G} g, received {nominal_g}")
    _, share, most_g = next(band for band in _BANDS if nominal_g <= band[0])
    return min(most_g, (nominal_g * share).quantize(Decimal("0.1"), ROUND_CEILING))


def check_net_mass(net_g: Sequence[Decimal], *, nominal_g: int) -> NetMassCheck:
    """Hold the weighed spools of a lot against the three rules for packages of equal nominal mass.

    Raises
    ------
    ValueError
        If nothing was weighed or the nominal mass is outside 5 to 10,000 g.

    Notes
    -----
    The rules hold for the whole lot; here they are asked of the spools that were weighed. It is the plant's own
    check, not the reference test of annex II, and which law holds for its labels the plant must know.

    References
    ----------
    Council Directive 76/211/EEC, annex I, 1. The share of 2.5 % is that of its annex II tests (from memory).
    """
    if not net_g:
        raise ValueError("at least one weighed spool is needed")
    error_g = tolerable_negative_error_g(nominal_g)
    return NetMassCheck(
        weighed=len(net_g),
        mean_net_g=sum(net_g, Decimal(0)) / len(net_g),
        least_net_g=min(net_g),
        nominal_g=nominal_g,
        tolerable_error_g=error_g,
        short=sum(net < nominal_g - error_g for net in net_g),
        far_short=sum(net < nominal_g - 2 * error_g for net in net_g),
    )
