"""Codes, drawn on a page."""

from __future__ import annotations

from reportlab.pdfgen.canvas import Canvas

from stockplan.paper.symbols import Modules, code_128

# Quiet zones in modules: ISO/IEC 15417 asks for 10 beside the bars, ISO/IEC 16022 for 1 around the matrix.
QUIET_BARS, QUIET_MATRIX = 10, 1


def draw_bars(canvas: Canvas, text: str, *, x: float, y: float, width: float, height: float) -> None:
    """Draw a text as Code 128 across a width, its quiet zones within.

    Raises
    ------
    ValueError
        If the text has characters that the symbol does not hold.
    """
    bars = code_128(text)
    quiet = width * QUIET_BARS / (bars.shape[1] + 2 * QUIET_BARS)
    draw_modules(canvas, bars, x=x + quiet, y=y, width=width - 2 * quiet, height=height)


def draw_modules(
    canvas: Canvas, modules: Modules, *, x: float, y: float, width: float, height: float | None = None
) -> None:
    """Fill the dark modules; each row by its runs of dark ones, so that no hairline stands between them."""
    quiet = 0 if height else QUIET_MATRIX
    rows, columns = modules.shape
    step = width / (columns + 2 * quiet)
    row_height = height / rows if height else step
    canvas.setFillGray(0)
    for j, row in enumerate(modules):
        bottom = y + (rows - 1 - j + quiet) * row_height
        starts = [i for i in range(columns) if row[i] and (i == 0 or not row[i - 1])]
        for start in starts:
            end = start
            while end < columns and row[end]:
                end += 1
            canvas.rect(x + (start + quiet) * step, bottom, (end - start) * step, row_height, stroke=0, fill=1)
