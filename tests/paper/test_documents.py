"""Tables on paper as a reader of PDF finds them."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from stockplan.paper.documents import Document, document_pdf
from stockplan.paper.fonts import NoGlyphError


def pages_of(rows: int) -> list[str]:
    document = Document(
        title="Pick list <Monday> & more",
        notes=["Two orders."],
        heads=("Place", "Spools"),
        rows=[(f"A{number:03d}", "<2>") for number in range(rows)],
        widths_mm=(30, 30),
    )
    return [page.extract_text() for page in PdfReader(BytesIO(document_pdf(document))).pages]


def test_document_shows_what_it_was_given_and_reads_no_markup_in_it() -> None:
    [page] = pages_of(1)
    assert [text in page for text in ("Pick list <Monday> & more", "Two orders.", "A000", "<2>")] == [True] * 4


def test_every_page_repeats_the_head_and_carries_its_number() -> None:
    pages = pages_of(120)
    assert len(pages) > 2
    assert ["Place" in page for page in pages] == [True] * len(pages)
    assert [str(number) in page.split() for number, page in enumerate(pages, start=1)] == [True] * len(pages)
    assert "A119" in pages[-1]


@pytest.mark.parametrize(("widths_mm", "upright"), [((90, 90), True), ((90, 91), False)])
def test_sheets_lie_on_their_side_where_the_table_is_wider_than_they_are(
    widths_mm: tuple[float, float], upright: bool
) -> None:
    document = Document("Week", [], ("Place", "Done"), [("1", "")], widths_mm)
    [page] = PdfReader(BytesIO(document_pdf(document))).pages
    assert (page.mediabox.width < page.mediabox.height) == upright
    # The number at the foot is on the sheet, in its right half.
    found: list[float] = []
    page.extract_text(visitor_text=lambda text, _cm, tm, *_: found.append(tm[4]) if text.strip() == "1" else None)
    assert page.mediabox.width / 2 < max(found) < page.mediabox.width


def test_document_keeps_letters_beyond_latin_1_and_refuses_what_it_cannot_draw() -> None:
    text = "Žluťoučký, Łódź, Ωμέγα, Їжак"
    document = Document(title=text, notes=[], heads=("A",), rows=[(text,)], widths_mm=(100,))
    [page] = PdfReader(BytesIO(document_pdf(document))).pages
    assert page.extract_text().count(text) == 2
    with pytest.raises(NoGlyphError, match=r"U\+96EA"):
        document_pdf(replace(document, rows=[("雪",)]))


def test_break_of_a_line_in_a_cell_is_a_blank() -> None:
    document = Document(title="Slip", notes=["1 Kiln Way\r\nOldtown"], heads=("A",), rows=[("a\nb",)], widths_mm=(100,))
    [page] = PdfReader(BytesIO(document_pdf(document))).pages
    assert [text in page.extract_text() for text in ("1 Kiln Way Oldtown", "a b")] == [True, True]


def test_number_stays_with_its_unit() -> None:
    name = "PLA Gasket Black 1.75 mm, 0.25 kg"
    lines = set()
    for width in range(20, 70):
        document = Document(title="Slip", notes=[], heads=("A",), rows=[(name,)], widths_mm=(width,))
        [page] = PdfReader(BytesIO(document_pdf(document))).pages
        lines |= {line.replace("\N{NO-BREAK SPACE}", " ").strip() for line in page.extract_text().splitlines()}
    assert name in lines
    assert not [line for line in lines if line.startswith(("mm", "kg"))]
