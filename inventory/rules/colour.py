"""Colour: from the hex code of a screen to CIELAB, and the CIEDE2000 difference of two colours.

sRGB after IEC 61966-2-1 (its transfer function and primaries), CIELAB after CIE 15 with the white point D65 for the
2 degree observer, CIEDE2000 after Sharma, Wu and Dalal. L* orders dark and light for changeovers; the difference
says how unlike two colours look. A screen colour is an approximation of the plastic: the spool decides.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")

# Linear sRGB -> XYZ, rows X, Y, Z (IEC 61966-2-1, as the inverse matrix with seven digits gives it).
_TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
# D65, 2 degree observer, Y = 1. The same digits as the matrix, so that white is exactly L* 100, a* 0, b* 0.
_WHITE = tuple(sum(row) for row in _TO_XYZ)
_CIE_EPSILON = 216 / 24389
_CIE_KAPPA = 24389 / 27
_POW_25_7 = 25.0**7


@dataclass(frozen=True)
class Lab:
    """A colour in CIELAB: lightness L* 0 to 100, a* green to red, b* blue to yellow."""

    l_star: float
    a_star: float
    b_star: float


def lab_of_hex(hex_colour: str) -> Lab:
    """Return the CIELAB coordinates (D65, 2 degree) of an sRGB colour written as #RRGGBB.

    Raises
    ------
    ValueError
        If the text is not of that form.

    References
    ----------
    IEC 61966-2-1:1999; CIE 15:2004, section 8.2.1.

    Examples
    --------
    >>> white = lab_of_hex("#FFFFFF")
    >>> round(white.l_star, 6), round(white.a_star, 6), round(white.b_star, 6)
    (100.0, 0.0, 0.0)
    """
    if not _HEX.fullmatch(hex_colour):
        raise ValueError(f"Write a colour as #RRGGBB, got {hex_colour!r}.")
    linear = [_linear(int(hex_colour[start : start + 2], 16) / 255) for start in (1, 3, 5)]
    xyz = [sum(weight * part for weight, part in zip(row, linear, strict=True)) for row in _TO_XYZ]
    x, y, z = (_lab_curve(value / white) for value, white in zip(xyz, _WHITE, strict=True))
    return Lab(l_star=116 * y - 16, a_star=500 * (x - y), b_star=200 * (y - z))


def lightness_of_hex(hex_colour: str) -> float:
    """Return the CIELAB L* of an sRGB colour: 0 black, 100 white."""
    return lab_of_hex(hex_colour).l_star


def difference_2000(first: Lab, second: Lab) -> float:
    """Return the CIEDE2000 colour difference with all three parametric factors 1.

    Symmetric in its arguments. Near hue differences of 180 degrees the formula itself is discontinuous.

    References
    ----------
    Sharma, Wu, Dalal (2005): The CIEDE2000 color-difference formula, Color Research and Application 30(1),
    equations 2 to 22.
    """
    chroma_ab = (math.hypot(first.a_star, first.b_star) + math.hypot(second.a_star, second.b_star)) / 2
    stretch = 1 + 0.5 * (1 - _seventh_root_share(chroma_ab))
    c1, h1 = _polar(first, stretch)
    c2, h2 = _polar(second, stretch)
    delta_l, delta_c = second.l_star - first.l_star, c2 - c1
    delta_hue = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(_hue_step(c1, h1, c2, h2)) / 2)
    mean_l, mean_c, mean_h = (first.l_star + second.l_star) / 2, (c1 + c2) / 2, _mean_hue(c1, h1, c2, h2)
    off_grey = (mean_l - 50) ** 2
    term_l = delta_l / (1 + 0.015 * off_grey / math.sqrt(20 + off_grey))
    term_c = delta_c / (1 + 0.045 * mean_c)
    term_h = delta_hue / (1 + 0.015 * mean_c * _hue_weight(mean_h))
    turn = 60 * math.exp(-(((mean_h - 275) / 25) ** 2))
    rotation = -math.sin(math.radians(turn)) * 2 * _seventh_root_share(mean_c)
    return math.sqrt(term_l**2 + term_c**2 + term_h**2 + rotation * term_c * term_h)


def _linear(share: float) -> float:
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _lab_curve(ratio: float) -> float:
    return float(ratio ** (1 / 3)) if ratio > _CIE_EPSILON else (_CIE_KAPPA * ratio + 16) / 116


def _seventh_root_share(chroma: float) -> float:
    return math.sqrt(chroma**7 / (chroma**7 + _POW_25_7))


def _polar(lab: Lab, stretch: float) -> tuple[float, float]:
    """Chroma and hue in degrees 0 to 360; the hue of a grey is 0 by convention."""
    a_prime = stretch * lab.a_star
    chroma = math.hypot(a_prime, lab.b_star)
    return chroma, math.degrees(math.atan2(lab.b_star, a_prime)) % 360 if chroma else 0.0


def _hue_step(c1: float, h1: float, c2: float, h2: float) -> float:
    if c1 * c2 == 0:
        return 0.0
    step = h2 - h1
    return step - 360 if step > 180 else step + 360 if step < -180 else step


def _mean_hue(c1: float, h1: float, c2: float, h2: float) -> float:
    if c1 * c2 == 0:
        return h1 + h2
    if abs(h1 - h2) <= 180:
        return (h1 + h2) / 2
    return (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2


def _hue_weight(hue: float) -> float:
    return (
        1
        - 0.17 * math.cos(math.radians(hue - 30))
        + 0.24 * math.cos(math.radians(2 * hue))
        + 0.32 * math.cos(math.radians(3 * hue + 6))
        - 0.20 * math.cos(math.radians(4 * hue - 63))
    )
