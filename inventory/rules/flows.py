"""Which ways each kind of movement may go, and in which quantities an item moves. Pure."""

from __future__ import annotations

from decimal import Decimal
from itertools import product

from inventory.rules.texts import Text, text

PHYSICAL = frozenset({"resin_store", "wound", "oven", "packing", "shelf", "hold", "returns"})
# Kinds that say which place is meant. There are several ovens: what is in one is taken out first.
ONE_OF_A_KIND = PHYSICAL - {"oven"}
PIPELINE = frozenset({"wound", "oven", "packing"})
SMALLEST = Decimal("0.001")

Way = tuple[str, str]


def _ways(sources: frozenset[str] | set[str], targets: frozenset[str] | set[str]) -> frozenset[Way]:
    return frozenset(pair for pair in product(sources, targets) if pair[0] != pair[1])


WAYS: dict[str, frozenset[Way]] = {
    "opening": _ways({"opening"}, PHYSICAL),
    "receipt": _ways({"supplier"}, {"resin_store"}),
    # What a run used although the books had too little of it comes from the count difference.
    "run_consumption": _ways({"resin_store", "count_difference"}, {"conversion"}),
    "run_output": _ways({"conversion"}, {"wound", "scrap"}),
    "oven_load": _ways({"wound"}, {"oven"}),
    "oven_unload": _ways({"oven"}, {"packing"}),
    "pack": _ways(PIPELINE, {"shelf"}) | _ways({"resin_store", "count_difference"}, {"conversion"}),
    "shipment": _ways({"shelf"}, {"customer", "own_use"}),
    "return": _ways({"customer"}, {"returns"}),
    "restock": _ways({"returns"}, {"shelf"}),
    "count": _ways(PHYSICAL, {"count_difference"}) | _ways({"count_difference"}, PHYSICAL),
    "hold": _ways(PHYSICAL - {"hold"}, {"hold"}),
    "hold_release": _ways({"hold"}, PHYSICAL - {"hold"}),
    "own_use": _ways(PHYSICAL, {"own_use"}),
    "sample": _ways(PHYSICAL, {"samples"}),
    "scrap": _ways(PHYSICAL, {"scrap"}),
}


def way_fault(kind: str, source: str, target: str) -> Text | None:
    """Say why a movement of this kind may not go from one kind of place to another, or None where it may.

    A reversal goes the mirrored way of what it reverses and is not restricted here.

    Examples
    --------
    >>> way_fault("receipt", "supplier", "resin_store")
    >>> way_fault("receipt", "supplier", "shelf")
    'A movement of kind receipt cannot go from supplier to shelf.'
    """
    if kind == "reversal" or (source, target) in WAYS[kind]:
        return None
    return text(
        "A movement of kind {kind} cannot go from {source} to {target}.", kind=kind, source=source, target=target
    )


def quantity_fault(quantity: Decimal, *, unit: str) -> Text | None:
    """Say why a quantity cannot be moved in this unit (kg in whole grams, the rest in whole numbers), or None.

    Examples
    --------
    >>> quantity_fault(Decimal("0.25"), unit="kg")
    >>> quantity_fault(Decimal("0.25"), unit="spool")
    'Quantity 0.25 must be a whole number of spools.'
    """
    if not quantity.is_finite() or quantity <= 0:
        return text("Quantity {quantity} must be a number above 0.", quantity=quantity)
    if quantity >= Decimal(10) ** 11:
        return text("Quantity {quantity} must be below 100,000,000,000.", quantity=quantity)
    if unit != "kg" and quantity != quantity.to_integral_value():
        return text("Quantity {quantity} must be a whole number of {unit}s.", quantity=quantity, unit=unit)
    if quantity != quantity.quantize(SMALLEST):
        return text("Quantity {quantity} kg must be in whole grams (at most 3 decimals).", quantity=quantity)
    return None


def plain(quantity: Decimal) -> Decimal:
    """Return a quantity as people write it: no exponent, no trailing zeros.

    Examples
    --------
    >>> print(plain(Decimal("5.000")), plain(Decimal("20")), plain(Decimal("0.250")))
    5 20 0.25
    """
    return Decimal(f"{quantity.normalize():f}")


def unknown_lot_code(item_code: str) -> str:
    """Return the code of the one lot of an item whose origin the books do not know."""
    return f"UNKNOWN-{item_code}"
