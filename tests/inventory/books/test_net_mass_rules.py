"""Net mass of packages: Council Directive 76/211/EEC, annex I (fixtures/reference/quality.json); sums by hand."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.rules.net_mass import check_net_mass, tolerable_negative_error_g

ENTRIES = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "reference" / "quality.json").read_text(encoding="utf-8")
)
[DIRECTIVE] = [row for row in ENTRIES if row["name"].startswith("EU tolerable")]
PAIRS = list(zip(DIRECTIVE["inputs"]["nominal_g"], DIRECTIVE["expected"]["TNE_g"], strict=True))


def masses(*net_g: str) -> list[Decimal]:
    return [Decimal(text) for text in net_g]


@pytest.mark.parametrize(("nominal_g", "error_g"), PAIRS)
def test_tolerable_error_is_that_of_the_directive(nominal_g: int, error_g: float) -> None:
    assert float(tolerable_negative_error_g(nominal_g)) == error_g


def test_percentage_is_rounded_up_to_a_tenth_of_a_gram() -> None:
    # 3 % of 334 g are 10.02 g.
    assert tolerable_negative_error_g(334) == Decimal("10.1")


@pytest.mark.parametrize("nominal_g", [4, 10_001])
def test_mass_that_the_directive_does_not_cover_is_refused(nominal_g: int) -> None:
    with pytest.raises(ValueError, match="5 to 10000 g"):
        tolerable_negative_error_g(nominal_g)


def test_full_spools_pass() -> None:
    check = check_net_mass(masses("1002", "1000", "999.5", "999.5"), nominal_g=1000)
    assert (check.mean_net_g, check.least_net_g, check.passes) == (Decimal("1000.25"), Decimal("999.5"), True)


def test_mean_below_nominal_fails_though_no_spool_is_short() -> None:
    check = check_net_mass(masses("999", "1000"), nominal_g=1000)
    assert (check.short, check.passes) == (0, False)


def test_one_short_spool_of_forty_passes_and_of_thirty_nine_fails() -> None:
    # 984.9 g is short by 15.1 g; one of 40 is 2.5 %.
    forty = check_net_mass(masses("984.9", *["1001"] * 39), nominal_g=1000)
    fewer = check_net_mass(masses("984.9", *["1001"] * 38), nominal_g=1000)
    assert (forty.short, forty.passes, fewer.passes) == (1, True, False)


def test_spool_short_by_exactly_the_tolerable_error_is_not_short() -> None:
    assert check_net_mass(masses("985", "1020"), nominal_g=1000).short == 0


def test_one_spool_short_by_more_than_twice_fails_among_any_number() -> None:
    check = check_net_mass(masses("969.9", *["1001"] * 99), nominal_g=1000)
    assert (check.short, check.far_short, check.passes) == (1, 1, False)


def test_nothing_weighed_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        check_net_mass([], nominal_g=1000)
