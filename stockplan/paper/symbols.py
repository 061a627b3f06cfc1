"""Code 128, GS1 DataMatrix and QR Code as dark and light modules, for any size of print."""

from __future__ import annotations

import numpy as np
import zint
from numpy.typing import NDArray

from inventory.rules.texts import text

Modules = NDArray[np.bool_]


def code_128(text: str) -> Modules:
    """Return the bars of a text, shape (1, modules), True where dark; without quiet zones (ISO/IEC 15417: 10 modules).

    Raises
    ------
    ValueError
        If the text has characters that the symbol does not hold.
    """
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.CODE128
    return _modules(symbol, text)


def gs1_data_matrix(elements: str) -> Modules:
    """Return the modules of an element string with its AIs in square brackets, shape (n, n), True where dark.

    Square, as many scanners expect it; without its quiet zone (ISO/IEC 16022: one module).

    Raises
    ------
    ValueError
        If the string breaks a rule of its AIs.
    """
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.DATAMATRIX
    symbol.input_mode = zint.InputMode.GS1
    symbol.option_3 = int(zint.DataMatrixOptions.SQUARE)
    return _modules(symbol, elements)


def qr_code(text: str) -> Modules:
    """Return the modules of a text, shape (n, n), True where dark; without its quiet zone (ISO/IEC 18004: 4 modules).

    Raises
    ------
    ValueError
        If the text is too long for the symbol.
    """
    symbol = zint.Symbol()
    symbol.symbology = zint.Symbology.QRCODE
    return _modules(symbol, text)


def svg_path(modules: Modules) -> str:
    """Return the dark modules as the path of an SVG, one unit a module."""
    return "".join(f"M{x} {y}h1v1h-1z" for y, x in np.argwhere(modules))


def _modules(symbol: zint.Symbol, content: str) -> Modules:
    # Without it a wrong check digit is only warned of.
    symbol.warn_level = zint.WarningLevel.FAIL_ALL
    try:
        symbol.encode(content)
    except RuntimeError as error:
        raise ValueError(
            text("{content!r} cannot be written as a code: {error}.", content=content, error=error)
        ) from error
    # Eight modules a byte, the first one in the lowest bit.
    packed = np.array(symbol.encoded_data.tolist(), dtype=np.uint8)
    return np.unpackbits(packed, axis=1, bitorder="little")[: symbol.rows, : symbol.width].astype(np.bool_)
