"""Labels of any size in millimetres: one a page for label stock, or as many as fit on sheets of plain paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from inventory.rules.texts import text
from stockplan.paper.drawing import draw_bars, draw_modules
from stockplan.paper.fonts import BOLD, REGULAR, check_drawable
from stockplan.paper.symbols import gs1_data_matrix

# Common practice, no source: below it a label has no room for its codes.
LEAST_WIDTH_MM, LEAST_HEIGHT_MM = 38.0, 25.0
MOST_MM = 210.0
MARGIN_MM = 2.0
SHEET_MARGIN_MM = 8.0


@dataclass(frozen=True)
class LabelSize:
    """Width and height of a label in mm.

    Raises
    ------
    ValueError
        If it is smaller than its codes, or larger than the paper.
    """

    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        width = {"least": LEAST_WIDTH_MM, "most": MOST_MM, "got": self.width_mm}
        if not LEAST_WIDTH_MM <= self.width_mm <= MOST_MM:
            raise ValueError(text("The width of a label is {least:g} to {most:g} mm, got {got:g}.", **width))
        height = {"least": LEAST_HEIGHT_MM, "most": MOST_MM, "got": self.height_mm}
        if not LEAST_HEIGHT_MM <= self.height_mm <= MOST_MM:
            raise ValueError(text("The height of a label is {least:g} to {most:g} mm, got {got:g}.", **height))


@dataclass(frozen=True)
class Label:
    """What stands on a label: a title, lines below it, a text as Code 128, GS1 elements as DataMatrix ("": none)."""

    title: str
    lines: Sequence[str]
    bars: str
    elements: str = ""


def label_pages(labels: Iterable[Label], *, size: LabelSize) -> bytes:
    """Return a PDF whose pages are labels of that size."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(size.width_mm * mm, size.height_mm * mm), invariant=True)
    for label in labels:
        _draw(canvas, label, size)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def label_sheets(labels: Iterable[Label], *, size: LabelSize) -> bytes:
    """Return a PDF of A4 pages with labels of that size side by side, each in a thin frame to cut along."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=A4, invariant=True)
    places = _places(size)
    for number, label in enumerate(labels):
        if number and number % len(places) == 0:
            canvas.showPage()
        x, y = places[number % len(places)]
        canvas.saveState()
        canvas.translate(x, y)
        canvas.setLineWidth(0.2)
        canvas.rect(0, 0, size.width_mm * mm, size.height_mm * mm)
        _draw(canvas, label, size)
        canvas.restoreState()
    canvas.save()
    return out.getvalue()


def _places(size: LabelSize) -> list[tuple[float, float]]:
    """Lower left corners on an A4 page, row by row from the top; one at least."""
    width, height, margin = size.width_mm * mm, size.height_mm * mm, SHEET_MARGIN_MM * mm
    across = max(1, int((A4[0] - 2 * margin) // width))
    down = max(1, int((A4[1] - 2 * margin) // height))
    left = (A4[0] - across * width) / 2
    return [(left + i * width, A4[1] - margin - (j + 1) * height) for j in range(down) for i in range(across)]


def _draw(canvas: Canvas, label: Label, size: LabelSize) -> None:
    width, height, margin = size.width_mm * mm, size.height_mm * mm, MARGIN_MM * mm
    inner = width - 2 * margin
    bars_height = max(7 * mm, height * 0.22)
    side = min(height - 2 * margin - bars_height - 4 * mm, inner * 0.35) if label.elements else 0.0
    if label.elements:
        draw_modules(
            canvas, gs1_data_matrix(label.elements), x=width - margin - side, y=height - margin - side, width=side
        )
    _words(canvas, label, left=margin, top=height - margin, width=inner - side - (margin if side else 0), height=height)
    draw_bars(canvas, label.bars, x=margin, y=margin + 2.6 * mm, width=inner, height=bars_height - 2.6 * mm)
    canvas.setFont(REGULAR, 6)
    canvas.drawCentredString(width / 2, margin, label.bars)


def _words(canvas: Canvas, label: Label, *, left: float, top: float, width: float, height: float) -> None:
    size = min(12.0, height / mm * 0.28)
    for words, font in ((label.title, BOLD), *((line, REGULAR) for line in label.lines)):
        line = check_drawable(words)
        fitting = min(size, size * width / max(stringWidth(line, font, size), 1.0))
        canvas.setFont(font, fitting)
        top -= size * 1.15
        canvas.drawString(left, top, line)
        size = min(size, height / mm * 0.22)
