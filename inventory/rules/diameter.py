"""Diameter of the strand: limits, spread, capability and the X-bar/R chart of a run. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from inventory.rules.texts import Text, text

Readings = NDArray[np.float64]
DiameterPair = tuple[Decimal, Decimal | None]
"""Diameter on one axis, in mm, and on the other where it was read."""
DEFAULT_SUBGROUP_SIZE = 5
LARGEST_MM = Decimal(10)


@dataclass(frozen=True)
class ChartConstants:
    """Factors of an X-bar/R chart for one subgroup size.

    A2, D3, D4 turn the mean range into limits, d2 turns it into a standard deviation.
    """

    a2: float
    d3: float
    d4: float
    d2: float


CHART_CONSTANTS: Mapping[int, ChartConstants] = {
    2: ChartConstants(1.880, 0.000, 3.267, 1.128),
    3: ChartConstants(1.023, 0.000, 2.574, 1.693),
    4: ChartConstants(0.729, 0.000, 2.282, 2.059),
    5: ChartConstants(0.577, 0.000, 2.114, 2.326),
    6: ChartConstants(0.483, 0.000, 2.004, 2.534),
    7: ChartConstants(0.419, 0.076, 1.924, 2.704),
    8: ChartConstants(0.373, 0.136, 1.864, 2.847),
    9: ChartConstants(0.337, 0.184, 1.816, 2.970),
    10: ChartConstants(0.308, 0.223, 1.777, 3.078),
}
"""By subgroup size, as printed (ISO 7870-2:2013; NIST/SEMATECH e-Handbook, 6.3.2)."""


@dataclass(frozen=True)
class DiameterLimits:
    """What the diameter may be: nominal +- tolerance, both ends allowed.

    Exact decimals become floats once, here, so that a reading at a limit is inside.
    """

    nominal_mm: Decimal
    tolerance_mm: Decimal

    @property
    def lower_mm(self) -> Decimal:
        return self.nominal_mm - self.tolerance_mm

    @property
    def upper_mm(self) -> Decimal:
        return self.nominal_mm + self.tolerance_mm

    def outside(self, x_mm: Readings, y_mm: Readings) -> NDArray[np.bool_]:
        """Say of each reading whether an axis is outside the limits; an axis that was not read (NaN) is not."""
        low, high = float(self.lower_mm), float(self.upper_mm)
        return (x_mm < low) | (x_mm > high) | (y_mm < low) | (y_mm > high)


@dataclass(frozen=True)
class Capability:
    """How a spread fits between limits.

    Cp = (USL - LSL) / 6 s and Cpk = min(USL - mean, mean - LSL) / 3 s, with s the standard deviation.
    """

    cp: float
    cpk: float


@dataclass(frozen=True)
class ChartPoint:
    """Mean and range of one subgroup, and whether they are outside the chart's limits."""

    mean_mm: float
    range_mm: float
    is_mean_out: bool
    is_range_out: bool


@dataclass(frozen=True)
class ControlChart:
    """X-bar/R chart of a run. `sigma_mm` is the spread within subgroups, R-bar / d2."""

    subgroup_size: int
    centre_mm: float
    mean_range_mm: float
    mean_lower_mm: float
    mean_upper_mm: float
    range_lower_mm: float
    range_upper_mm: float
    sigma_mm: float
    points: tuple[ChartPoint, ...]


@dataclass(frozen=True)
class DiameterSummary:
    """What the readings of a run say.

    Attributes
    ----------
    sd_mm : float or None
        Sample standard deviation; None for one reading.
    outside_readings : int
        Readings with an axis outside the limits.
    mean_ovality_mm, largest_ovality_mm : float or None
        Of |x - y| over the readings on two axes; None where there are none.
    within, overall : Capability or None
        By the spread within subgroups (Cp, Cpk) and by the sample standard deviation of all readings (Pp, Ppk).
        None where there are too few readings, or where they do not differ at all.
    chart : ControlChart or None
        None with fewer than two full subgroups.
    """

    readings: int
    mean_mm: float
    sd_mm: float | None
    least_mm: float
    largest_mm: float
    outside_readings: int
    mean_ovality_mm: float | None
    largest_ovality_mm: float | None
    within: Capability | None
    overall: Capability | None
    chart: ControlChart | None


def reading_fault(value: Decimal) -> Text | None:
    """Say why a number cannot be one reading in mm, or None where it can.

    Examples
    --------
    >>> reading_fault(Decimal("1.7512"))
    >>> reading_fault(Decimal("17.5"))
    '17.5 must be above 0 and below 10 mm, at most 4 decimals.'
    """
    if value.is_finite() and 0 < value < LARGEST_MM and value == round(value, 4):
        return None
    return text("{value} must be above 0 and below {most} mm, at most 4 decimals.", value=value, most=LARGEST_MM)


def readings_digest(readings: Sequence[DiameterPair]) -> str:
    """Return the SHA-256 of readings in their order: 1.75 and 1.7500 are the same reading."""
    rows = (f"{x:.4f},{'' if y is None else f'{y:.4f}'}" for x, y in readings)
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()


def axes_of(readings: Iterable[DiameterPair]) -> tuple[Readings, Readings]:
    """Return the readings, at least one, as x and y in mm; y NaN where one axis was read."""
    x_mm, y_mm = zip(*((float(x), np.nan if y is None else float(y)) for x, y in readings), strict=True)
    return np.array(x_mm), np.array(y_mm)


def summarise_diameters(
    x_mm: Readings, y_mm: Readings, *, limits: DiameterLimits, subgroup_size: int = DEFAULT_SUBGROUP_SIZE
) -> DiameterSummary:
    """Summarise the readings of a run in the order of measuring.

    With two axes the diameter of a reading is (x + y) / 2 and its ovality |x - y|; each axis alone is held against
    the limits.

    Parameters
    ----------
    x_mm, y_mm : ndarray, shape (readings,)
        Readings in mm, at least one; y NaN where one axis was read.
    limits : DiameterLimits
        What the diameter may be.
    subgroup_size : int
        Consecutive readings of a subgroup, 2 to 10.

    Raises
    ------
    ValueError
        If there is no reading, the axes differ in length, or the subgroup size has no constants.

    Notes
    -----
    Consecutive readings of a gauge are correlated; then R-bar / d2 is less than the true spread and limits of the
    chart are too close. Leave time between readings, or look at Ppk.
    """
    if x_mm.size == 0 or y_mm.shape != x_mm.shape:
        raise ValueError(f"one reading at least and axes of one length needed, received {x_mm.shape}, {y_mm.shape}")
    has_two = ~np.isnan(y_mm)
    diameters = np.where(has_two, (x_mm + y_mm) / 2, x_mm)
    axes = np.concatenate([x_mm, y_mm[has_two]])
    ovality = np.abs(x_mm - y_mm)[has_two]
    mean = float(diameters.mean())
    sd = float(diameters.std(ddof=1)) if diameters.size > 1 else None
    chart = control_chart(diameters, subgroup_size=subgroup_size)
    return DiameterSummary(
        readings=int(diameters.size),
        mean_mm=mean,
        sd_mm=sd,
        least_mm=float(axes.min()),
        largest_mm=float(axes.max()),
        outside_readings=int(limits.outside(x_mm, y_mm).sum()),
        mean_ovality_mm=float(ovality.mean()) if ovality.size else None,
        largest_ovality_mm=float(ovality.max()) if ovality.size else None,
        within=None if chart is None else _capability_or_none(chart.centre_mm, chart.sigma_mm, limits),
        overall=None if sd is None else _capability_or_none(mean, sd, limits),
        chart=chart,
    )


def capability(*, mean: float, sd: float, lower: float, upper: float) -> Capability:
    """Return Cp and Cpk of a mean and a standard deviation > 0 between two limits.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.1.6; ISO 22514-2.

    Examples
    --------
    >>> capability(mean=16, sd=2, lower=8, upper=20).cp
    1.0
    """
    return Capability(cp=(upper - lower) / (6 * sd), cpk=min(upper - mean, mean - lower) / (3 * sd))


def control_chart(values_mm: Readings, *, subgroup_size: int) -> ControlChart | None:
    """Return the X-bar/R chart of consecutive subgroups, or None with fewer than two full ones.

    Limits of the mean: grand mean +- A2 R-bar; of the range: D3 R-bar and D4 R-bar. Readings after the last full
    subgroup are not on the chart.

    Raises
    ------
    ValueError
        If the subgroup size is not 2 to 10.

    References
    ----------
    ISO 7870-2:2013; NIST/SEMATECH e-Handbook, 6.3.2.
    """
    if subgroup_size not in CHART_CONSTANTS:
        raise ValueError(f"subgroup size must be 2 to 10, received {subgroup_size}")
    count = values_mm.size // subgroup_size
    if count < 2:
        return None
    factors = CHART_CONSTANTS[subgroup_size]
    groups = values_mm[: count * subgroup_size].reshape(count, subgroup_size)
    means, ranges = groups.mean(axis=1), np.ptp(groups, axis=1)
    centre, mean_range = float(means.mean()), float(ranges.mean())
    low, high = centre - factors.a2 * mean_range, centre + factors.a2 * mean_range
    range_low, range_high = factors.d3 * mean_range, factors.d4 * mean_range
    points = zip(
        means.tolist(),
        ranges.tolist(),
        ((means < low) | (means > high)).tolist(),
        ((ranges < range_low) | (ranges > range_high)).tolist(),
        strict=True,
    )
    return ControlChart(
        subgroup_size=subgroup_size,
        centre_mm=centre,
        mean_range_mm=mean_range,
        mean_lower_mm=low,
        mean_upper_mm=high,
        range_lower_mm=range_low,
        range_upper_mm=range_high,
        sigma_mm=mean_range / factors.d2,
        points=tuple(ChartPoint(*point) for point in points),
    )


def _capability_or_none(mean: float, sd: float, limits: DiameterLimits) -> Capability | None:
    if sd == 0:
        return None
    return capability(mean=mean, sd=sd, lower=float(limits.lower_mm), upper=float(limits.upper_mm))
