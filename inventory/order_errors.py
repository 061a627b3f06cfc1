"""Broken rules of orders, promises and shipments."""

from __future__ import annotations

from inventory.errors import ConflictError, InvalidInputError, NotFoundError


class UnknownOrderError(NotFoundError):
    """No order has this id."""

    code = "order_not_found"


class UnknownChannelError(InvalidInputError):
    """No channel has this code."""

    code = "unknown_channel"


class UnknownSkuError(InvalidInputError):
    """A line names an SKU that is not in the catalogue."""

    code = "unknown_sku"


class SkuNotOnSaleError(InvalidInputError):
    """A line asks for an SKU before its first or after its last day on sale."""

    code = "sku_not_on_sale"


class QuantityError(InvalidInputError):
    """A quantity is no whole number of spools within the limits."""

    code = "quantity_out_of_range"


class DuplicateSkuError(InvalidInputError):
    """Two lines of one order ask for the same SKU."""

    code = "duplicate_sku"


class LineCountError(InvalidInputError):
    """An order has no line, or more than the limit."""

    code = "line_count"


class OrderFieldError(InvalidInputError):
    """A field of the head of an order is outside what is allowed."""

    code = "order_field"


class ReferenceInUseError(ConflictError):
    """The channel has already sent this reference with another body."""

    code = "reference_in_use"


class ClosedOrderError(ConflictError):
    """The order is shipped or cancelled; nothing can be changed in it."""

    code = "order_closed"


class KeptOrderError(ConflictError):
    """Its spools are only kept for a visitor: nothing of it ships or is amended until it is taken as an order."""

    code = "kept_for_a_visitor"


class NotFreeError(ConflictError):
    """What would be kept for a visitor is not free on the shelf."""

    code = "not_free"


class OrderChangedError(ConflictError):
    """The order is no longer as the caller read it."""

    code = "order_changed"


class BelowShippedError(ConflictError):
    """A line cannot be reduced below what has left the plant."""

    code = "below_shipped"


class PartShipmentError(ConflictError):
    """The order must leave whole, and something of it would stay behind."""

    code = "may_not_part_ship"


class NotAllocatedError(ConflictError):
    """A line would ship more than it holds of the shelf."""

    code = "not_allocated"


class NotOnShelfError(ConflictError):
    """The spools were not on the shelf, in lots that may leave, when they are said to have shipped."""

    code = "not_on_shelf"
