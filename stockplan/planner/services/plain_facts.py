"""The plant's facts for what does not look at demand."""

from __future__ import annotations

from datetime import datetime

from inventory.models import Sku
from inventory.rules.calendar import PlantCalendar
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.selectors.facts import SkuDemand, calendar_around, plan_facts
from stockplan.planner.services.forecasts import span_of
from stockplan.planner.services.make_lists import DEFAULT_DAYS


def facts_without_demand(*, as_of: datetime, calendar: PlantCalendar | None = None) -> PlanFacts:
    """Return the plant as of an instant with neither orders nor forecasts, in order.

    Parameters
    ----------
    calendar
        Left out: the one around the instant.
    """
    around = calendar or calendar_around(as_of)
    span = span_of(as_of=as_of, calendar=around, days=DEFAULT_DAYS)
    none, zero = (0,) * len(span.days), (0.0,) * len(span.days)
    demand = dict.fromkeys(Sku.objects.values_list("pk", flat=True), SkuDemand(0, none, zero, zero, 0))
    return plan_facts(as_of=as_of, span=span, calendar=around, demand=demand).in_order()
