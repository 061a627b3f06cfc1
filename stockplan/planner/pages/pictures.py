"""What the charts draw and what they say: the same rows as numbers for the eye and as words for everybody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.rules.diameter import ControlChart
from inventory.selectors.service_weeks import WeekService
from stockplan.planner.pages.replay_form import POLICY_NAMES
from stockplan.planner.selectors.forecast_health import ClassHealth, ForecastHealth
from stockplan.planner.selectors.projection import Projection
from stockplan.planner.selectors.sku_records import WeekDemand
from stockplan.planner.selectors.stored_replays import PastReplay
from stockplan.planner.selectors.track_records import TrackRecord
from stockplan.planner.templatetags.planner_pages import day, percent

# And in the table beside them.
MOST_SUBGROUPS_DRAWN = 200


@dataclass(frozen=True)
class Picture:
    """A chart: `words` stand above it and name it for assistive technology, `drawn` goes to the browser as JSON."""

    words: str
    drawn: dict[str, Any]


def history_picture(weeks: Sequence[WeekDemand]) -> Picture:
    """Bars of the spools due by week."""
    most = max(weeks, key=lambda week: week.spools)
    words = ngettext(
        "Spools due by week over the last %(weeks)d week: %(sum)d in all, at most %(most)d in the week from %(day)s.",
        "Spools due by week over the last %(weeks)d weeks: %(sum)d in all, at most %(most)d in the week from %(day)s.",
        len(weeks),
    ) % {
        "weeks": len(weeks),
        "sum": sum(week.spools for week in weeks),
        "most": most.spools,
        "day": formats.date_format(most.monday, "j M Y"),
    }
    return Picture(
        words=words,
        drawn={
            "labels": [formats.date_format(week.monday, "j M") for week in weeks],
            "values": [week.spools for week in weeks],
            "unit": _("spools"),
            "names": {"bar": _("Spools due")},
        },
    )


def fan_picture(projection: Projection) -> Picture:
    """Fan of the projected stock: the middle line, half of the cases, nine cases of ten."""
    rows = projection.rows
    low_outer, low_inner, middle, high_inner, high_outer = zip(*(row.quantiles for row in rows), strict=True)
    return Picture(
        words=_fan_words(projection),
        drawn={
            "labels": [day(row.day) for row in rows],
            "middle": middle,
            "low_inner": low_inner,
            "high_inner": high_inner,
            "low_outer": low_outer,
            "high_outer": high_outer,
            "supply": [row.supply for row in rows],
            "unit": _("spools"),
            "list_end": sum(row.day <= projection.list_last_day for row in rows) - 1,
            "names": {
                "list_end": _("end of the list"),
                "middle": _("Stock in the middle case"),
                "inner": _("half of the cases"),
                "outer": _("nine cases of ten"),
                "supply": _("reaches the shelf"),
                "empty": _("nothing left; below: spools late"),
            },
        },
    )


def _fan_words(projection: Projection) -> str:
    last = projection.rows[-1]
    words = [
        _(
            "Projected stock, shelf less open orders: %(now)d on the shelf now; at the end of %(day)s, %(middle)d in "
            "the middle case, between %(low)d and %(high)d in nine cases of ten."
        )
        % {
            "now": projection.on_shelf,
            "day": day(last.day),
            "middle": last.quantiles[2],
            "low": last.quantiles[0],
            "high": last.quantiles[-1],
        }
    ]
    if last.day > projection.list_last_day:
        words.append(
            _("What later lists will make is not in it: this one ends on %(day)s.")
            % {"day": day(projection.list_last_day)}
        )
    if last.quantiles[0] < 0:
        words.append(_("Below zero are spools that would be late."))
    short = next((row.day for row in projection.rows if row.quantiles[0] < 0), None)
    if short is None:
        words.append(_("Up to then it runs short in fewer than one case of twenty."))
    else:
        words.append(_("In one case of twenty it runs short by %(day)s.") % {"day": day(short)})
    return " ".join(words)


def tenths_picture(record: TrackRecord) -> Picture:
    """Bars of the share of past outcomes in each tenth of the distribution that was forecast for them."""
    words = ngettext(
        "Where the outcome of %(windows)d past risk period fell: about 10%% belong in each tenth of the forecast.",
        "Where the outcomes of %(windows)d past risk periods fell: about 10%% belong in each tenth of the forecast.",
        record.windows,
    ) % {"windows": record.windows}
    words += " " + _("In the lowest tenth lie %(low)s, in the highest %(high)s.") % {
        "low": percent(record.tenths[0]),
        "high": percent(record.tenths[-1]),
    }
    return Picture(
        words=words,
        drawn={
            "labels": [f"{low}\N{EN DASH}{high}" for low, high, _share in record.by_tenth],
            "values": [round(100 * share, 1) for share in record.tenths],
            "unit": "%",
            "names": {"bar": _("Outcomes")},
        },
    )


def service_picture(weeks: Sequence[WeekService]) -> Picture:
    """Bars of the share of orders complete on their due day, by week; a week without orders has none."""
    shares = [week.stocked.orders.share for week in weeks]
    known = [share for share in shares if share is not None]
    words = _("Share of orders of stocked SKUs that shipped complete on their due day, by week.")
    if known:
        words += " " + _("Between %(low)s and %(high)s; in the last week with orders %(last)s.") % {
            "low": percent(min(known)),
            "high": percent(max(known)),
            "last": percent(known[-1]),
        }
    return Picture(
        words=words,
        drawn={
            "labels": [formats.date_format(week.monday, "j M") for week in weeks],
            "values": [None if share is None else round(100 * share, 1) for share in shares],
            "unit": "%",
            "names": {"bar": _("Orders complete")},
        },
    )


# A class with fewer past risk periods is in the table, but its line would be noise.
FEWEST_WINDOWS_DRAWN = 30


def calibration_picture(health: ForecastHealth) -> Picture:
    """Lines of the share of outcomes at or below each quantile, one a class, beside the line of honest quantiles."""
    if health.overall is None:
        raise ValueError("Nothing was scored.")
    worst = max(health.overall.coverages, key=lambda pair: abs(pair[1] - pair[0]))
    words = _(
        "Share of past outcomes at or below each quantile, which should equal the quantile. Furthest from it over all "
        "classes: %(share)s at the quantile %(quantile)s."
    ) % {"share": percent(worst[1]), "quantile": percent(worst[0])}
    drawn = [one for one in health.classes if one.windows >= FEWEST_WINDOWS_DRAWN]
    return Picture(
        words=words,
        drawn={
            "lines": [_calibration_line(one) for one in (health.overall, *drawn)],
            "names": {"x": _("quantile, %"), "y": _("outcomes at or below it, %"), "honest": _("honest")},
        },
    )


def _calibration_line(one: ClassHealth) -> dict[str, Any]:
    return {
        "name": _(one.demand_class),
        "points": [[round(100 * quantile, 1), round(100 * share, 1)] for quantile, share in one.coverages],
    }


def exchange_picture(
    curves: Sequence[PastReplay], *, currency: str, today: tuple[float, float | None] | None = None
) -> Picture:
    """Lines of the share of orders kept over the mean value of the shelf, one a policy, and where the plant stands.

    `today` is the value of the shelf as it is and the share that was really kept of late.
    """
    words = _("Share of orders complete on their due day against the mean value of the shelf.")
    for curve in curves:
        best = max(curve.rows, key=lambda row: row.totals.orders.share or 0.0)
        words += " " + _("%(policy)s: at most %(share)s, at a shelf of %(value)d %(currency)s.") % {
            "policy": POLICY_NAMES.get(curve.policy, curve.policy),
            "share": percent(best.totals.orders.share),
            "value": round(best.totals.mean_stock_value),
            "currency": currency,
        }
    drawn = [{"name": str(POLICY_NAMES.get(curve.policy, curve.policy)), "points": _points(curve)} for curve in curves]
    if today is not None and today[1] is not None:
        words += " " + _("The plant itself: %(share)s of late, at a shelf of %(value)d %(currency)s today.") % {
            "share": percent(today[1]),
            "value": round(today[0]),
            "currency": currency,
        }
        drawn.append({"name": _("the plant itself"), "points": [[round(today[0]), round(100 * today[1], 2)]]})
    value = _("mean value of the shelf, %(currency)s") % {"currency": currency}
    return Picture(
        words=words,
        drawn={"lines": drawn, "names": {"x": value, "y": _("orders complete, %")}},
    )


def control_pictures(chart: ControlChart) -> tuple[Picture, Picture]:
    """Lines of the means and of the ranges of subgroups, each between its limits: the X-bar and the R chart."""
    drawn = chart.points[:MOST_SUBGROUPS_DRAWN]
    out = sum(point.is_mean_out for point in drawn), sum(point.is_range_out for point in drawn)
    means = _between(
        _("mean, mm"),
        [point.mean_mm for point in drawn],
        middle=chart.centre_mm,
        limits=(chart.mean_lower_mm, chart.mean_upper_mm),
    )
    ranges = _between(
        _("range, mm"),
        [point.range_mm for point in drawn],
        middle=chart.mean_range_mm,
        limits=(chart.range_lower_mm, chart.range_upper_mm),
    )
    said = {"n": len(drawn), "mean": out[0], "range": out[1]}
    return (
        Picture(_("Means of %(n)d subgroups in their order: %(mean)d beyond the limits.") % said, means),
        Picture(_("Ranges of %(n)d subgroups in their order: %(range)d beyond the limits.") % said, ranges),
    )


def _between(name: str, values: Sequence[float], *, middle: float, limits: tuple[float, float]) -> dict[str, Any]:
    levels = ((_("middle"), middle), (_("lower limit"), limits[0]), (_("upper limit"), limits[1]))
    flat = [{"name": words, "points": [[1, level], [len(values), level]]} for words, level in levels]
    points = [[number, value] for number, value in enumerate(values, start=1)]
    return {"lines": [{"name": name, "points": points}, *flat], "names": {"x": _("subgroup"), "y": name}}


def _points(curve: PastReplay) -> list[list[float]]:
    shares = ((row.totals.mean_stock_value, row.totals.orders.share) for row in curve.rows)
    return [[round(value), round(100 * share, 2)] for value, share in shares if share is not None]
