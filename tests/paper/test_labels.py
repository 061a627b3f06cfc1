"""Labels as a scanner reads them: drawn by zint and reportlab, rendered by PDFium, decoded by ZXing, parsed by biip."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO

import biip
import numpy as np
import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from inventory.rules.gs1 import spool_elements
from stockplan.paper.fonts import NoGlyphError
from stockplan.paper.labels import Label, LabelSize, label_pages, label_sheets
from stockplan.paper.symbols import code_128, gs1_data_matrix

GTIN, LOT = "9521234543213", "R000001"
LABEL = Label(
    title="PLA Black 1.75 mm",
    lines=("1 kg (35.3 oz) net", "GTIN 9521234543213", "Lot R000001"),
    bars="PLA-BLACK-1000",
    elements=spool_elements(gtin=GTIN, lot=LOT, net_g=1000),
)


def page_of(pdf: bytes, number: int = 0, *, dpi: int = 300) -> np.ndarray:
    """A page as a printer of so many dots an inch would put it on paper, in grey."""
    return pypdfium2.PdfDocument(pdf)[number].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()


def codes_on(image: np.ndarray) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for code in zxingcpp.read_barcodes(image):
        # ISO/IEC 15424: ]d2 is a DataMatrix that begins with FNC1, as GS1 asks for; ]C0 is Code 128 without it.
        found.setdefault(code.symbology_identifier, []).append(code.bytes.decode())
    return found


@pytest.mark.parametrize(("width_mm", "height_mm"), [(38, 25), (62, 29), (100, 150), (150, 60)])
def test_codes_of_a_label_are_read_back_at_any_size(width_mm: float, height_mm: float) -> None:
    pdf = label_pages([LABEL], size=LabelSize(width_mm=width_mm, height_mm=height_mm))
    found = codes_on(page_of(pdf))
    assert found["]C0"] == ["PLA-BLACK-1000"]
    assert [len(found[kind]) for kind in ("]C0", "]d2")] == [1, 1]


def test_data_matrix_says_gtin_lot_and_net_mass_to_a_parser_of_gs1() -> None:
    [text] = codes_on(page_of(label_pages([LABEL], size=LabelSize(width_mm=62, height_mm=29))))["]d2"]
    message = biip.parse(text).gs1_message
    assert message is not None
    found = {one.ai.ai: one for one in message.element_strings}
    assert set(found) == {"01", "10", "3103"}
    assert found["01"].gtin.as_gtin_13() == GTIN
    assert found["10"].value == LOT
    assert found["3103"].decimal == Decimal("1.000")


def test_label_is_a_page_of_its_size_in_millimetres() -> None:
    reader = PdfReader(BytesIO(label_pages([LABEL, LABEL], size=LabelSize(width_mm=62, height_mm=29))))
    # 25.4 mm are 72 points.
    assert [float(side) for side in reader.pages[1].mediabox[2:]] == pytest.approx([62 * 72 / 25.4, 29 * 72 / 25.4])
    assert len(reader.pages) == 2


def test_words_of_a_label_stay_on_it_however_long() -> None:
    long = Label(title="PA 6/66 copolymer Tin Kettle Grey 2.85 mm, extra long name", lines=LABEL.lines, bars=LABEL.bars)
    image = page_of(label_pages([long], size=LabelSize(width_mm=38, height_mm=25)))
    # A dark dot on the edge would be a word that runs over it.
    edge = np.concatenate([image[:, -2:].ravel(), image[:, :2].ravel(), image[:2].ravel(), image[-2:].ravel()])
    assert edge.min() > 200


def test_sheet_of_plain_paper_holds_as_many_labels_as_fit() -> None:
    # A4 is 210 x 297 mm: less two margins of 8 mm, three labels of 62 mm stand side by side and nine of 29 mm below.
    reader = PdfReader(BytesIO(label_sheets([LABEL] * 28, size=LabelSize(width_mm=62, height_mm=29))))
    assert len(reader.pages) == 2
    assert reader.pages[0].extract_text().count("Lot R000001") == 27


def test_every_label_of_a_sheet_is_read_back() -> None:
    image = page_of(label_sheets([LABEL] * 6, size=LabelSize(width_mm=62, height_mm=29)))
    assert len(codes_on(image)["]d2"]) == 6


@pytest.mark.parametrize(("width_mm", "height_mm"), [(37.9, 25), (38, 24.9), (211, 50), (float("nan"), 50)])
def test_label_without_room_for_its_codes_is_refused(width_mm: float, height_mm: float) -> None:
    with pytest.raises(ValueError, match="of a label is"):
        LabelSize(width_mm=width_mm, height_mm=height_mm)


@pytest.mark.parametrize("lot", ["", "R1 2", "r1", "X" * 21])
def test_lot_that_ai_10_does_not_hold_is_refused(lot: str) -> None:
    with pytest.raises(ValueError, match="A lot on a label"):
        spool_elements(gtin=GTIN, lot=lot, net_g=1000)


@pytest.mark.parametrize("net_g", [0, -1, 1_000_000])
def test_mass_that_ai_3103_does_not_hold_is_refused(net_g: int) -> None:
    with pytest.raises(ValueError, match="A net mass on a label"):
        spool_elements(gtin=GTIN, lot=LOT, net_g=net_g)


def test_gtin_with_a_wrong_check_digit_makes_no_code() -> None:
    with pytest.raises(ValueError, match="cannot be written as a code"):
        gs1_data_matrix(spool_elements(gtin="9521234543210", lot=LOT, net_g=1000))


def test_text_that_code_128_does_not_hold_makes_no_code() -> None:
    with pytest.raises(ValueError, match="cannot be written as a code"):
        code_128("€" * 200)


# Names as people of these languages write them: Czech, Polish, Turkish, Greek, Ukrainian, with a euro sign and a dash.
BEYOND_LATIN_1 = "Žluťoučký Łódź İğneşçi Ωμέγα Їжак – €"


def test_letters_beyond_latin_1_are_on_the_label_in_an_embedded_font() -> None:
    label = Label(title=BEYOND_LATIN_1, lines=[BEYOND_LATIN_1], bars="A-1")
    [page] = PdfReader(BytesIO(label_pages([label], size=LabelSize(width_mm=100, height_mm=60)))).pages
    assert page.extract_text().count(BEYOND_LATIN_1) == 2
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].get_object().values()]
    drawn = [font for font in fonts if "Roboto" in font["/BaseFont"]]
    assert drawn
    assert all("/FontFile2" in font["/FontDescriptor"] for font in drawn)


@pytest.mark.parametrize("where", ["title", "lines"])
def test_character_of_no_font_is_refused_by_name(where: str) -> None:
    texts = {"title": "Snow", "lines": ["1 kg"]} | {where: "雪" if where == "title" else ["雪"]}
    with pytest.raises(NoGlyphError, match=r"'雪' \(U\+96EA, CJK UNIFIED IDEOGRAPH-96EA\) in '雪'"):
        label_pages([Label(bars="A-1", **texts)], size=LabelSize(width_mm=62, height_mm=29))


def test_break_of_a_line_on_a_label_is_a_blank() -> None:
    label = Label(title="Carton", lines=["1 Kiln Way\nOldtown"], bars="A-1")
    [page] = PdfReader(BytesIO(label_pages([label], size=LabelSize(width_mm=100, height_mm=60)))).pages
    assert "1 Kiln Way Oldtown" in page.extract_text()
