"""What to offer where a SKU is short: the colours that look most like it. Pure."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TypeVar

from inventory.rules.colour import difference_2000, lab_of_hex

Key = TypeVar("Key", bound=Hashable)


def nearest_colours(hex_colour: str, offered: Mapping[Key, str], *, most: int) -> list[tuple[Key, float]]:
    """Return the colours that differ least from one, the nearest first, each with its CIEDE2000 difference.

    Parameters
    ----------
    hex_colour : str
        The colour that is asked for, #RRGGBB.
    offered : mapping of key to str
        The colours to choose from.
    most : int
        How many to return.

    Examples
    --------
    >>> nearest_colours("#FF0000", {"pink": "#FF8080", "red": "#F00000", "blue": "#0000FF"}, most=1)[0][0]
    'red'
    """
    asked = lab_of_hex(hex_colour)
    differences = [(key, difference_2000(asked, lab_of_hex(colour))) for key, colour in offered.items()]
    return sorted(differences, key=lambda pair: pair[1])[:most]
