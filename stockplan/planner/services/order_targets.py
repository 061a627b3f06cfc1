"""The owner's one number: what a share of orders complete costs in stock, and setting it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import numpy as np
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.models import PlantParameters
from inventory.selectors.plant import parameters
from stockplan.planner.core.order_target import VerifiedTarget, verified_order_target
from stockplan.planner.errors import PlanningError
from stockplan.planner.selectors.demand_basis import demand_basis
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.selectors.order_baskets import target_input
from stockplan.planner.services.forecasts import span_of
from stockplan.planner.services.levels import forecast_and_level
from stockplan.planner.services.make_lists import DEFAULT_DAYS


class OrderTargetError(PlanningError):
    """The share of orders cannot be aimed at."""

    code = "order_target"


@dataclass(frozen=True)
class TargetAdvice:
    """What a share costs. `levels` are order-up-to by SKU code, from the baskets alone, without forecast error."""

    share: float
    verified: VerifiedTarget
    levels: dict[str, int]


def advise_order_target(*, share: float, as_of: datetime) -> TargetAdvice:
    """Compute and simulate the levels that a share of orders complete needs. Nothing is stored.

    Raises
    ------
    OrderTargetError
        If the share is not between 0 and 1, no order of stocked SKUs is in the books, or no stock reaches it.
    """
    _check(share)
    calendar = calendar_around(as_of)
    basis = demand_basis(as_of=as_of, calendar=calendar)
    span = span_of(as_of=as_of, calendar=calendar, days=DEFAULT_DAYS)
    facts, _, levels = forecast_and_level(basis, as_of=as_of, span=span, calendar=calendar)
    given = target_input(basis, lead_days=levels.stock.lead_days, review_days=levels.stock.review_days)
    if given is None:
        raise OrderTargetError("No recent order of stocked SKUs is in the books.", pointer="/share")
    verified = verified_order_target(given, share)
    if verified.target.share < verified.aimed_share - 1e-9:
        reached = verified.simulated.share
        raise OrderTargetError(
            "{share:.2%} is out of reach: the highest levels give {reached:.2%}.",
            share=share,
            reached=reached,
            pointer="/share",
        )
    codes = [sku.code for sku in facts.skus]
    return TargetAdvice(share, verified, dict(zip(codes, map(int, np.asarray(verified.target.levels)), strict=True)))


@transaction.atomic
def set_order_target(*, share: float | None, by: AbstractBaseUser | None = None) -> None:
    """Store the share of orders that every forecast from now on sets its levels by; None: one target for all SKUs.

    Who did it on a page stands in the history of the plant's parameters.

    Raises
    ------
    OrderTargetError
        If the share is not between 0 and 1.
    """
    if share is not None:
        _check(share)
    row = PlantParameters.objects.select_for_update().get(pk=parameters().pk)
    row.order_target_share = None if share is None else Decimal(str(share))
    row.full_clean()
    row.save(update_fields=["order_target_share"])
    if by is not None:
        words = [{"changed": {"fields": ["order target share"]}}]
        LogEntry.objects.log_actions(by.pk, [row], CHANGE, words, single_object=True)


def _check(share: float) -> None:
    if not 0 < share < 1:
        raise OrderTargetError(
            "A share of orders lies above 0 and below 1, got {share:g}.", share=share, pointer="/share"
        )
