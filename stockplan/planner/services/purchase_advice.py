"""What to buy, from a list that materials do not limit and the forecast beyond it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime

from inventory.models import Item
from inventory.selectors.plant import parameters
from stockplan.planner.core.facts import PlanFacts, StoreItem
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.outlook import lead_days
from stockplan.planner.core.planning import make_plan
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.purchasing import Purchase, PurchaseTerms, needs_ahead, purchases
from stockplan.planner.models import PurchaseAdvice
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.make_lists import DEFAULT_DAYS


def advise_purchases(*, as_of: datetime, now: datetime) -> tuple[Purchase, ...]:
    """Return what to buy as of an instant, the most urgent first; stores it with the forecast that it stands on.

    The plant's target share is the share of purchases that shall come in time. Runs that are committed have their
    materials in the store still: they are taken off what is on hand.
    """
    forecast = compute_forecast(as_of=as_of, now=now, days=DEFAULT_DAYS)
    found = _advise(forecast.facts())
    PurchaseAdvice.objects.create(forecast_run=forecast.run, computed_at=now, rows=[asdict(row) for row in found])
    return found


def _advise(facts: PlanFacts) -> tuple[Purchase, ...]:
    # Without a store nothing is blocked or cut: the list is the one that the plant would run if it had bought.
    plan = make_plan(replace(facts, store=()))
    plant = plan.plant
    needs = needs_ahead(
        plant,
        [row.ranked.run for row in plan.runs],
        all_supply=plan.state.all_supply,
        lead_days={code: lead_days(plant, code) for code in plant.filaments},
    )
    left = opening_of(plant_of(facts.in_order())).floor.store.left
    share = float(parameters().target_share)
    return purchases(needs, _terms(facts.store, left), today=facts.calendar.local_day(facts.as_of), in_time_share=share)


def _terms(store: Sequence[StoreItem], left: Mapping[str, float]) -> dict[str, PurchaseTerms]:
    """Return how each item of the store is bought, by code. One query."""
    bought = {item.code: item for item in Item.objects.filter(code__in=[row.code for row in store])}
    return {
        row.code: PurchaseTerms(
            name=row.name,
            unit=row.unit,
            on_hand=left[row.code],
            lead_time_days=row.lead_time_days,
            is_counted=bought[row.code].unit == Item.Unit.PIECE,
            pack_size=None if bought[row.code].pack_size is None else float(bought[row.code].pack_size or 0),
            supplier_minimum=float(bought[row.code].supplier_minimum),
        )
        for row in store
    }
