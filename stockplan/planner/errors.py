"""Broken rules of planning. No HTTP here."""

from __future__ import annotations

from inventory.errors import RuleError


class PlanningError(RuleError):
    """A make list cannot be computed, changed or released as asked; nothing was written."""

    code = "planning_rule"
