"""The places of the ledger: one of each kind, and one for every oven."""

from __future__ import annotations

from inventory.models import Oven, Place


def place(kind: str, oven: Oven | None = None) -> Place:
    """Return the place of a kind (of an oven, for kind "oven"), written at its first use. One query, later on."""
    code = f"OVEN-{oven.pk}" if oven is not None else kind.upper().replace("_", "-")
    row, _ = Place.objects.get_or_create(
        kind=kind, oven=oven, defaults={"code": code, "is_physical": Place.Kind(kind) not in Place.VIRTUAL}
    )
    return row


def ensure_places() -> None:
    """Write the places that are missing: one per kind, and one per oven."""
    for kind in Place.Kind:
        if kind is not Place.Kind.OVEN:
            place(kind)
    for oven in Oven.objects.order_by("id"):
        place(Place.Kind.OVEN, oven)
