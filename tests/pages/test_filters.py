"""How figures and days are written on the pages."""

from __future__ import annotations

import pytest
from babel import Locale
from babel.numbers import format_percent
from django.utils import translation

from forecasting.messages import message
from stockplan.planner.templatetags.planner_pages import kilograms, minutes, percent, percent_points, quantile, said


@pytest.mark.parametrize(
    ("share", "written"), [(0.98567, "98.6"), (1 - 0.4 / 0.5, "20.0"), (-0.2, "-20.0"), (1, "100.0"), (0.00049, "0.0")]
)
def test_percent_rounds_to_one_decimal(share: float, written: str) -> None:
    assert percent(share) == f"{written}%"


@pytest.mark.parametrize("language", ["en", "de"])
def test_shares_of_tables_and_of_sentences_are_written_as_the_language_writes_them(german: None, language: str) -> None:
    # The reference is Unicode CLDR, as Babel has it.
    with translation.override(language):
        tables = [percent(0.974), percent_points(0.974), quantile(0.974), said(message("{share:.1%}", share=0.974))]
        short = format_percent(
            0.974, Locale(language).percent_formats[None].pattern.replace("0", "0.0"), locale=language
        )
    assert tables == [short, short.replace("4", "40"), short, short]


def test_quantile_has_no_decimals_that_it_does_not_need() -> None:
    assert (quantile(0.95), quantile(0.995)) == ("95%", "99.5%")


def test_kilograms_are_written_as_spools_are_sold() -> None:
    assert [kilograms(net_g) for net_g in (250, 750, 1000, 2500)] == ["250 g", "750 g", "1 kg", "2.5 kg"]


def test_minutes_become_hours_from_sixty_on() -> None:
    assert [minutes(value) for value in (45, 59.6, 200)] == ["45 min", "1 h 00 min", "3 h 20 min"]
