"""Spread, capability and X-bar/R chart against published values (fixtures/reference/quality.json names each source)."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inventory.rules.diameter import (
    CHART_CONSTANTS,
    Capability,
    DiameterLimits,
    capability,
    control_chart,
    summarise_diameters,
)

ENTRIES = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "reference" / "quality.json").read_text(encoding="utf-8")
)
LIMITS = DiameterLimits(nominal_mm=Decimal("1.75"), tolerance_mm=Decimal("0.03"))


def entry(name: str) -> dict[str, Any]:
    [found] = [row for row in ENTRIES if row["name"].startswith(name)]
    return found


CHART = entry("X-bar/R chart constants")
SIZES = CHART["inputs"]["n"]


def one_axis(count: int) -> np.ndarray:
    return np.full(count, np.nan)


@pytest.mark.parametrize("size", SIZES)
def test_constants_are_those_of_the_printed_table(size: int) -> None:
    printed = {name: CHART["expected"][name][SIZES.index(size)] for name in ("A2", "D3", "D4", "d2")}
    ours = CHART_CONSTANTS[size]
    assert {"A2": ours.a2, "D3": ours.d3, "D4": ours.d4, "d2": ours.d2} == printed


@pytest.mark.parametrize("size", SIZES)
def test_constants_follow_from_the_distribution_of_the_range(size: int) -> None:
    # d2 and d3: mean and standard deviation of the range of a normal sample, by numerical integration.
    d2, d3 = (CHART["expected"][name][SIZES.index(size)] for name in ("d2_exact", "d3_exact"))
    ours = CHART_CONSTANTS[size]
    assert ours.a2 == pytest.approx(3 / (d2 * math.sqrt(size)), abs=CHART["tolerance"]["A2"])
    assert ours.d3 == pytest.approx(max(0, 1 - 3 * d3 / d2), abs=CHART["tolerance"]["D3"])
    assert ours.d4 == pytest.approx(1 + 3 * d3 / d2, abs=CHART["tolerance"]["D4"])


def test_chart_has_the_limits_of_the_worked_example() -> None:
    example = entry("X-bar/R limits example")
    # Two subgroups of five with mean 1.75 and range 0.02 each.
    group = [1.74, 1.745, 1.75, 1.755, 1.76]
    chart = control_chart(np.array(group * 2), subgroup_size=5)
    assert chart is not None
    assert (chart.centre_mm, chart.mean_range_mm) == pytest.approx((1.75, 0.02), abs=1e-12)
    wanted = [example["expected"][name] for name in ("xbar_LCL", "xbar_UCL", "R_LCL", "R_UCL", "sigma_hat")]
    ours = [chart.mean_lower_mm, chart.mean_upper_mm, chart.range_lower_mm, chart.range_upper_mm, chart.sigma_mm]
    assert ours == pytest.approx(wanted, abs=example["tolerance"])


@pytest.mark.parametrize("name", ["Cp/Cpk worked example", "Filament capability example"])
def test_capability_is_that_of_the_worked_example(name: str) -> None:
    example = entry(name)
    given, wanted = example["inputs"], example["expected"]
    ours = capability(mean=given["mean"], sd=given["sd"], lower=given["LSL"], upper=given["USL"])
    assert (ours.cp, ours.cpk) == pytest.approx((wanted["Cp"], wanted["Cpk"]), abs=example["tolerance"])


def test_two_axes_give_a_mean_and_an_ovality() -> None:
    example = entry("Ovality")
    axes = np.array([[example["inputs"]["dx"]], [example["inputs"]["dy"]]])
    summary = summarise_diameters(axes[0], axes[1], limits=LIMITS)
    assert summary.mean_mm == pytest.approx(example["expected"]["mean"], abs=1e-12)
    assert summary.mean_ovality_mm == pytest.approx(example["expected"]["ovality_mm"], abs=1e-12)


def test_one_axis_has_no_ovality() -> None:
    summary = summarise_diameters(np.array([1.74, 1.76]), one_axis(2), limits=LIMITS)
    assert (summary.mean_ovality_mm, summary.largest_ovality_mm) == (None, None)


def test_axes_of_some_readings_only_count_where_they_were_read() -> None:
    summary = summarise_diameters(np.array([1.74, 1.76]), np.array([np.nan, 1.79]), limits=LIMITS)
    assert summary.largest_ovality_mm == pytest.approx(0.03)
    assert summary.mean_mm == pytest.approx((1.74 + 1.775) / 2)
    assert (summary.least_mm, summary.largest_mm) == (1.74, 1.79)


def test_spread_is_the_sample_standard_deviation() -> None:
    # 1.74, 1.75, 1.76: deviations 0.01, 0, 0.01; variance 0.0002 / 2.
    summary = summarise_diameters(np.array([1.74, 1.75, 1.76]), one_axis(3), limits=LIMITS)
    assert summary.sd_mm == pytest.approx(0.01, abs=1e-12)
    # Limits 1.72 to 1.78: 0.06 over 0.06, and the mean in the middle.
    assert summary.overall is not None
    assert (summary.overall.cp, summary.overall.cpk) == pytest.approx((1.0, 1.0), abs=1e-9)


def test_capability_within_subgroups_uses_their_mean_range() -> None:
    # Ranges 0.01 and 0.01, d2 of two 1.128; the level moves between them, which Cpk does not see and Ppk does.
    summary = summarise_diameters(np.array([1.73, 1.74, 1.76, 1.77]), one_axis(4), limits=LIMITS, subgroup_size=2)
    assert summary.within is not None
    assert summary.within.cpk == pytest.approx(0.03 / (3 * 0.01 / 1.128), abs=1e-9)
    # Deviations from 1.75: 0.02, 0.01, 0.01, 0.02; variance 0.001 / 3.
    assert summary.overall is not None
    assert summary.overall.cpk == pytest.approx(0.03 / (3 * math.sqrt(0.001 / 3)), abs=1e-9)


def test_reading_at_a_limit_is_inside_and_beyond_it_outside() -> None:
    # 1.72 and 1.78 are the limits; floats of sums of decimals would miss them.
    x = np.array([1.72, 1.78, 1.7199, 1.7801])
    assert LIMITS.outside(x, one_axis(4)).tolist() == [False, False, True, True]


def test_reading_is_outside_when_only_its_other_axis_is() -> None:
    assert LIMITS.outside(np.array([1.75]), np.array([1.79])).tolist() == [True]


def test_chart_marks_the_subgroup_that_jumped() -> None:
    # Seven subgroups of 1.749 and 1.751, one of 1.769 and 1.771: R-bar 0.002, grand mean 1.7525, limit +-0.00376.
    readings = np.array([1.749, 1.751] * 7 + [1.769, 1.771])
    chart = control_chart(readings, subgroup_size=2)
    assert chart is not None
    assert [point.is_mean_out for point in chart.points] == [False] * 7 + [True]
    assert not any(point.is_range_out for point in chart.points)


def test_chart_marks_the_subgroup_that_spread() -> None:
    # Seven ranges 0.002 and one 0.04: R-bar 0.00675, D4 3.267: upper limit 0.0221.
    chart = control_chart(np.array([1.749, 1.751] * 7 + [1.73, 1.77]), subgroup_size=2)
    assert chart is not None
    assert [point.is_range_out for point in chart.points] == [False] * 7 + [True]


def test_readings_after_the_last_full_subgroup_are_not_on_the_chart() -> None:
    chart = control_chart(np.array([1.75] * 11), subgroup_size=5)
    assert chart is not None
    assert len(chart.points) == 2


@pytest.mark.parametrize("count", [1, 9])
def test_there_is_no_chart_with_fewer_than_two_subgroups(count: int) -> None:
    summary = summarise_diameters(np.linspace(1.74, 1.76, count), one_axis(count), limits=LIMITS)
    assert (summary.chart, summary.within) == (None, None)


def test_equal_readings_have_no_capability() -> None:
    summary = summarise_diameters(np.full(10, 1.75), one_axis(10), limits=LIMITS)
    assert (summary.within, summary.overall, summary.sd_mm) == (None, None, 0)


def test_one_reading_has_no_spread() -> None:
    assert summarise_diameters(np.array([1.75]), one_axis(1), limits=LIMITS).sd_mm is None


def test_capability_off_the_middle_is_less_than_that_of_the_tolerance() -> None:
    assert capability(mean=1.76, sd=0.01, lower=1.72, upper=1.78) == Capability(
        cp=pytest.approx(1.0), cpk=pytest.approx(2 / 3)
    )


def test_capability_is_the_same_on_either_side_of_the_middle() -> None:
    sides = [capability(mean=mean, sd=0.01, lower=1.72, upper=1.78).cpk for mean in (1.74, 1.76)]
    assert sides == pytest.approx([2 / 3, 2 / 3])


def test_ovality_is_told_on_average_and_at_its_largest() -> None:
    summary = summarise_diameters(np.array([1.75, 1.75]), np.array([1.74, 1.77]), limits=LIMITS)
    assert (summary.mean_ovality_mm, summary.largest_ovality_mm) == pytest.approx((0.015, 0.02))


def test_reading_after_the_last_full_subgroup_counts_overall_and_not_within() -> None:
    # Two pairs around 1.75 with ranges 0.01, and one reading of 1.77 that no pair holds.
    readings = np.array([1.745, 1.755, 1.745, 1.755, 1.77])
    summary = summarise_diameters(readings, one_axis(5), limits=LIMITS, subgroup_size=2)
    assert summary.within is not None
    assert summary.within.cpk == pytest.approx(0.03 / (3 * 0.01 / 1.128), abs=1e-9)
    assert summary.mean_mm == pytest.approx(1.754)


def test_axes_of_different_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="axes of one length"):
        summarise_diameters(np.array([1.75, 1.75]), one_axis(1), limits=LIMITS)


@pytest.mark.parametrize("size", [1, 11])
def test_subgroup_size_without_constants_is_refused(size: int) -> None:
    with pytest.raises(ValueError, match="2 to 10"):
        control_chart(np.array([1.75] * 30), subgroup_size=size)
