"""Element strings of GS1: what a code on a label says, by application identifiers (AI). Pure.

References
----------
GS1 General Specifications, section 3: AI 01 (GTIN, 14 digits), AI 10 (batch or lot, up to 20 characters of character
set 82), AI 310n (net weight in kilograms, 6 digits, n of them decimals).
"""

from __future__ import annotations

import re

from inventory.rules.gtin import gtin_fault
from inventory.rules.texts import text

MAX_LOT_LENGTH = 20
MAX_NET_G = 999_999
# Character set 82 (section 7.11) as far as codes of this plant use it.
_LOT = re.compile(r"[A-Z0-9.\-]{1,20}")
# Read as scanners type it: they leave FNC1 out, or type a group separator.
_SCAN = re.compile(
    r"(?:\][A-Za-z][0-9])?\x1d?(?:(?P<alone>[0-9]{8,14})|[(\[]?01[)\]]?(?P<element>[0-9]{14})(?P<rest>\x1d?[(\[]?[0-9]{2}.*)?)",
    re.ASCII,
)
# Behind the GTIN of our labels: net mass and lot, in either order.
_LOT_OF_SCAN = re.compile(
    r"\x1d?(?:[(\[]?310[0-9][)\]]?[0-9]{6}\x1d?)?[(\[]?10[)\]]?(?P<lot>[A-Z0-9.\-]{1,20})(?:\x1d.*)?", re.ASCII
)


def spool_elements(*, gtin: str, lot: str, net_g: int) -> str:
    """Return GTIN, lot and net mass of a spool as an element string with its AIs in brackets.

    Raises
    ------
    ValueError
        If the lot or the mass has no place in its AI.

    Notes
    -----
    The specifications tie AI 310n to articles of variable measure; a spool's mass is fixed by its GTIN. It is on the
    label all the same for whoever has only the code in hand, and repeats what the GTIN says.

    Examples
    --------
    >>> spool_elements(gtin="9521234543213", lot="R000001", net_g=750)
    '[01]09521234543213[3103]000750[10]R000001'
    """
    if not _LOT.fullmatch(lot):
        raise ValueError(
            text(
                "A lot on a label has 1 to {most} capital letters, digits, '.' or '-', got {lot!r}.",
                most=MAX_LOT_LENGTH,
                lot=lot,
            )
        )
    if not 0 < net_g <= MAX_NET_G:
        raise ValueError(text("A net mass on a label is 1 to {most} g, got {net_g}.", most=MAX_NET_G, net_g=net_g))
    # What is of fixed length first: it needs no separator.
    return f"[01]{gtin:0>14}[3103]{net_g:06d}[10]{lot}"


def gtin_of_scan(text: str) -> str | None:
    """Return the GTIN that a scanner typed, without leading zeros; None where the text is none.

    A GTIN alone, with or without zeros up to 14 digits, or an element string that begins with one: after a symbology
    identifier (ISO/IEC 15424) or not, AIs in brackets or not. The rest of an element string is not looked at.

    Examples
    --------
    >>> gtin_of_scan("]d20109521234543213310300075010R000001"), gtin_of_scan("PLA 1.75")
    ('9521234543213', None)
    """
    found = _SCAN.fullmatch(text.strip())
    if found is None:
        return None
    gtin = found["alone"] or found["element"]
    return None if gtin_fault(gtin) else gtin.lstrip("0")


def lot_of_scan(text: str) -> str | None:
    """Return the lot of an element string that a scanner typed, as it stands on the labels of spools; None without.

    Examples
    --------
    >>> lot_of_scan("]d20109521234543213310300075010R000001")
    'R000001'
    """
    found = _SCAN.fullmatch(text.strip())
    lot = _LOT_OF_SCAN.fullmatch(found["rest"] or "") if found else None
    return lot["lot"] if lot else None
