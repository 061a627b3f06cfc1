"""What the charts draw and what they say: the same rows as numbers for the eye and as words for everybody."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from stockplan.planner.selectors.sku_records import WeekDemand


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
