"""A ledger with so many movements, written as sets: counts that find a spool more and, the time after, one less."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import connection
from django.utils import timezone

SPAN = timedelta(days=730)
LOTS = """
SELECT lot_id, item_id, place_id, row_number() OVER (ORDER BY lot_id) - 1 AS rank FROM inventory_balance
WHERE place_id = (SELECT id FROM inventory_place WHERE kind = 'shelf')
"""
MOVEMENTS = """
INSERT INTO inventory_movement (id, kind, occurred_at, known_at, reason, document)
SELECT %(first)s + n, 'count', {at}, {at}, 'bench', '' FROM {numbers}
"""
# Lines of a pair move one spool of the same lot there and back: no balance changes.
LINES = """
INSERT INTO inventory_movementline (movement_id, item_id, lot_id, quantity, from_place_id, to_place_id)
SELECT %(first)s + n, l.item_id, l.lot_id, 1,
    CASE n %% 2 WHEN 0 THEN %(outside)s ELSE l.place_id END, CASE n %% 2 WHEN 0 THEN l.place_id ELSE %(outside)s END
FROM {numbers} JOIN ({lots}) AS l ON l.rank = (n / 2) %% %(lots)s
"""
NUMBERS = {
    "postgresql": "generate_series(0, %(count)s - 1) AS n",
    "sqlite": "(WITH RECURSIVE s(n) AS (SELECT 0 UNION ALL SELECT n+1 FROM s WHERE n+1 < %(count)s) SELECT n FROM s)",
}
# Indexes that no constraint needs: building them at the end takes a fraction of keeping them row by row.
INDEXES = {
    "postgresql": """
        SELECT indexname, indexdef FROM pg_indexes
        WHERE tablename IN ('inventory_movement', 'inventory_movementline')
        AND indexname NOT IN (SELECT conname FROM pg_constraint)
    """,
    "sqlite": """
        SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL
        AND tbl_name IN ('inventory_movement', 'inventory_movementline')
    """,
}
AT = {
    "postgresql": "%(begin)s::timestamptz + n * %(step_s)s * interval '1 second'",
    "sqlite": "strftime('%%Y-%%m-%%d %%H:%%M:%%f', %(begin_s)s + n * %(step_s)s, 'unixepoch') || '000'",
}


def lengthen_ledger(*, to: int) -> None:
    """Add movements until there are `to` (an even number more), spread over the two years up to yesterday."""
    from inventory.models import Movement, Place

    count = (to - Movement.objects.count()) // 2 * 2
    if count <= 0:
        return
    begin = timezone.now() - SPAN
    outside, _ = Place.objects.get_or_create(
        kind=Place.Kind.COUNT_DIFFERENCE, defaults={"code": "COUNT-DIFFERENCE", "is_physical": False}
    )
    last = Movement.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM ({LOTS}) AS l")
        values = {
            "first": last + 1,
            "count": count,
            "lots": cursor.fetchone()[0],
            "outside": outside.pk,
            **_times(begin, count),
        }
    _write(values)


def _times(begin: datetime, count: int) -> dict[str, object]:
    step_s = (SPAN - timedelta(days=1)).total_seconds() / count
    return {"begin": begin.isoformat(), "begin_s": begin.timestamp(), "step_s": step_s}


def _write(values: dict[str, object]) -> None:
    """The keys are right by construction; looking each one up would take most of the time."""
    numbers, at = NUMBERS[connection.vendor], AT[connection.vendor]
    is_postgres = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        cursor.execute("SET session_replication_role = replica" if is_postgres else "PRAGMA foreign_keys = OFF")
        cursor.execute(INDEXES[connection.vendor])
        indexes = cursor.fetchall()
        for name, _ in indexes:
            cursor.execute(f'DROP INDEX "{name}"')
        cursor.execute(MOVEMENTS.format(at=at, numbers=numbers), values)
        cursor.execute(LINES.format(numbers=numbers, lots=LOTS), values)
        for _, definition in indexes:
            cursor.execute(definition)
        if is_postgres:
            cursor.execute("SELECT setval('inventory_movement_id_seq', (SELECT max(id) FROM inventory_movement))")
        cursor.execute("SET session_replication_role = DEFAULT" if is_postgres else "PRAGMA foreign_keys = ON")
        cursor.execute("ANALYZE")
