"""What the database knows of tables that have just been filled."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connection
from django.db.models import Model

from inventory.models import Movement, MovementLine

LEDGER: frozenset[type[Model]] = frozenset({Movement, MovementLine})


def analyse(models: Iterable[type[Model]]) -> None:
    """Have the database look at what the tables hold, so that it plans its queries for that.

    By itself PostgreSQL looks within a minute, SQLite never. Empty tables are left out: PostgreSQL would then take
    them for empty for as long, but for a table never looked at it assumes a few pages. The ledger is left out as well:
    it begins with one movement, which SQLite would take for all that there ever is.
    """
    with connection.cursor() as cursor:
        for model in models:
            if model not in LEDGER and model._default_manager.exists():
                cursor.execute(f"ANALYZE {connection.ops.quote_name(model._meta.db_table)}")
