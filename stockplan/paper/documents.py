"""Tables on A4 sheets: what the floor picks and what goes into a parcel."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, PageBreak, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from stockplan.paper.drawing import QUIET_BARS, draw_bars
from stockplan.paper.fonts import BOLD, REGULAR, check_drawable
from stockplan.paper.symbols import code_128

MARGIN_MM = 15.0
# What a sheet has for its table when it stands upright.
WIDTH_MM = A4[0] / mm - 2 * MARGIN_MM
_TITLE = ParagraphStyle("title", fontName=BOLD, fontSize=15, leading=19)
_HEAD = ParagraphStyle("head", fontName=BOLD, fontSize=9.5, leading=12)
_TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=9.5, leading=12)
_UNIT = re.compile(r"(?<=\d) (?=(?:mm|g|kg|°C|h|min)\b)")
_RULED = TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey), ("VALIGN", (0, 0), (-1, -1), "TOP")])


@dataclass(frozen=True)
class Document:
    """A title, sentences below it, and one table. `widths_mm` are those of its columns, `bars` what a scanner reads of
    it as Code 128 above the title; "": nothing.
    """

    title: str
    notes: Sequence[str]
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    widths_mm: Sequence[float]
    bars: str = ""


def document_pdf(*documents: Document) -> bytes:
    """Return documents as one PDF: each begins a page, the head of its table on every one, pages numbered at the foot.
    Sheets lie on their side where a table is wider than they are upright.

    Raises
    ------
    NoGlyphError
        If one has a character that the fonts have not.
    """
    out = BytesIO()
    margin = MARGIN_MM * mm
    widest_mm = max(sum(document.widths_mm) for document in documents)
    template = SimpleDocTemplate(
        out,
        pagesize=landscape(A4) if widest_mm > WIDTH_MM else A4,
        title=documents[0].title,
        invariant=True,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin,
    )
    sheets = [_parts(document) for document in documents]
    parts = [part for sheet in sheets for part in (*sheet, PageBreak())][:-1]
    template.build(parts, onFirstPage=_numbered, onLaterPages=_numbered)
    return out.getvalue()


def _parts(document: Document) -> list[Flowable]:
    cells = [[_words(head, _HEAD) for head in document.heads]]
    cells += [[_words(cell, _TEXT) for cell in row] for row in document.rows]
    notes = [_words(note, _TEXT) for note in document.notes]
    table = Table(cells, colWidths=[width * mm for width in document.widths_mm], repeatRows=1, style=_RULED)
    bars = [_Bars(document.bars)] if document.bars else []
    return [*bars, _words(document.title, _TITLE), *notes, Spacer(1, 4 * mm), table]


class _Bars(Flowable):
    """Code 128 with modules of 0.4 mm, which plain printers print well (common practice, no source), or finer where
    the text would not fit on the sheet.
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text, self.height = text, 14 * mm
        self.width = min((code_128(text).shape[1] + 2 * QUIET_BARS) * 0.4 * mm, WIDTH_MM * mm)

    def draw(self) -> None:
        """Draw the bars with some white below them."""
        draw_bars(self.canv, self.text, x=0, y=2 * mm, width=self.width, height=12 * mm)


def _words(text: str, style: ParagraphStyle) -> Paragraph:
    # A number that is parted from its unit is misread.
    together = _UNIT.sub("\N{NO-BREAK SPACE}", check_drawable(text))
    return Paragraph(escape(together), style)


def _numbered(canvas: Canvas, template: SimpleDocTemplate) -> None:
    canvas.setFont(REGULAR, 8)
    canvas.drawRightString(template.pagesize[0] - MARGIN_MM * mm, 8 * mm, str(canvas.getPageNumber()))
