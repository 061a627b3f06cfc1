"""Pairs of tests of each database constraint: a clean error through the service, IntegrityError past it.

A test says which side it holds: `@pytest.mark.clean_error_of("run_one_started_per_line")` on the side of the service,
`@pytest.mark.refused_by_database(...)` past it. `tests/architecture/test_constraint_pairs.py` finds what is missing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from _pytest.mark import ParameterSet
from django.apps import apps
from django.db import IntegrityError, models, transaction

OUR_APPS = ("inventory", "planner", "access")


def named_constraints() -> dict[str, tuple[type[models.Model], models.BaseConstraint]]:
    """Every constraint of our tables by its name, with its table."""
    return {
        rule.name: (model, rule)
        for app in OUR_APPS
        for model in apps.get_app_config(app).get_models()
        for rule in model._meta.constraints
    }


@contextmanager
def refused(constraint: str) -> Iterator[None]:
    """The database refuses by this constraint. SQLite names a unique constraint by its columns."""
    model, rule = named_constraints()[constraint]
    names = [re.escape(constraint)]
    if isinstance(rule, models.UniqueConstraint):
        columns = (f"{model._meta.db_table}.{model._meta.get_field(name).column}" for name in rule.fields)
        names.append(f"UNIQUE constraint failed: {re.escape(', '.join(columns))}$")
    with pytest.raises(IntegrityError, match="|".join(names)), transaction.atomic():
        yield


def copy_of(row: models.Model, **changes: object) -> None:
    """Insert a row again, with other values where they are named."""
    row.pk = None
    for name, value in changes.items():
        setattr(row, name, value)
    row.save(force_insert=True)


def clean_error_of(constraint: str, *values: object) -> ParameterSet:
    """A row of a table of cases, marked as the side of the service."""
    return pytest.param(constraint, *values, marks=pytest.mark.clean_error_of(constraint), id=constraint)


def refused_by_database(constraint: str, *values: object) -> ParameterSet:
    """A row of a table of cases, marked as the side past the service."""
    return pytest.param(constraint, *values, marks=pytest.mark.refused_by_database(constraint), id=constraint)
