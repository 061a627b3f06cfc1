"""Broken rules of planning. No HTTP here."""

from __future__ import annotations


class PlanningError(Exception):
    """A make list cannot be computed, changed or released as asked; nothing was written."""

    code = "planning_rule"

    def __init__(self, message: str, *, pointer: str = "") -> None:
        super().__init__(message)
        self.pointer = pointer
