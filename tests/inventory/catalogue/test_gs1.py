"""What a scanner types when it reads a code, against biip, a parser of GS1 codes."""

from __future__ import annotations

import biip
import pytest

from inventory.rules.gs1 import gtin_of_scan, lot_of_scan, spool_elements

GTIN = "9521234543213"
LABEL = spool_elements(gtin=GTIN, lot="R000001", net_g=750)


@pytest.mark.parametrize(
    "scan",
    [
        GTIN,
        f"0{GTIN}",  # as GTIN-14
        f"]E0{GTIN}",  # EAN-13 with its symbology identifier (ISO/IEC 15424)
        f"010{GTIN}310300075010R000001",  # the label's DataMatrix, FNC1 not passed on
        f"]d2010{GTIN}310300075010R000001",
        f"]d2010{GTIN}10R000001\x1d3103000750",  # lot first: FNC1 as group separator behind it
        f"]C1010{GTIN}",  # GS1-128
    ],
)
def test_gtin_of_a_scan_is_the_one_that_a_parser_of_gs1_reads(scan: str) -> None:
    read = biip.parse(scan)
    assert read.gtin is not None
    assert gtin_of_scan(scan) == read.gtin.as_gtin_13() == GTIN


def test_gtin_of_a_scan_is_read_from_the_elements_of_our_own_labels() -> None:
    for written in (LABEL, LABEL.replace("[", "(").replace("]", ")"), LABEL.replace("[", "").replace("]", "")):
        assert gtin_of_scan(written) == GTIN


@pytest.mark.parametrize(
    "text", ["", "petg 1 kg", "PLA-GAS-175-00750", "175", "9521234543214", f"010{GTIN[:-1]}4", "0112", "01" + "9" * 30]
)
def test_words_codes_and_wrong_check_digits_are_no_scan(text: str) -> None:
    assert gtin_of_scan(text) is None


@pytest.mark.parametrize(
    "scan",
    [
        f"010{GTIN}310300075010R000001",
        f"]d2010{GTIN}10R000001\x1d3103000750",
        f"010{GTIN}10R-7.5",
        f"(01)0{GTIN}(3103)000750(10)R000001",
    ],
)
def test_lot_of_a_scan_is_the_one_that_a_parser_of_gs1_reads(scan: str) -> None:
    message = biip.parse(scan.replace("(", "").replace(")", "")).gs1_message
    assert message is not None
    assert lot_of_scan(scan) == next(one.value for one in message.element_strings if one.ai.ai == "10")


@pytest.mark.parametrize("text", ["", "R000001", GTIN, f"010{GTIN}", f"010{GTIN}3103000750", "10R000001"])
def test_text_without_gtin_and_lot_has_no_lot(text: str) -> None:
    assert lot_of_scan(text) is None
