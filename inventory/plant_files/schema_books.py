"""Schema of the files that open the books: channels, opening stock, orders."""

from __future__ import annotations

from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.plant_files.schema_catalogue import code

OPENING_PLACES = ("resin_store", "wound", "packing", "shelf", "hold", "returns")
ORDER_KINDS = ("regular", "project", "own_use")

CHANNELS = FileSchema(
    name="channels.csv",
    meaning="Where orders come from.",
    key=("code",),
    columns=(
        code("own code of the channel"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(name="hides_unavailable", kind=Kind.YES_NO, meaning="shows no goods without free stock", empty="no"),
    ),
)

OPENING_STOCK = FileSchema(
    name="opening_stock.csv",
    meaning="Stock of one lot at one place when the books open. Lots are used in the order of their rows.",
    key=("place", "lot"),
    is_required=False,
    absent="the books open with empty places",
    columns=(
        Column(name="item", kind=Kind.TEXT, refers_to="items.csv", meaning="code of an item or of a SKU"),
        Column(
            name="place",
            kind=Kind.TEXT,
            meaning=f"{', '.join(OPENING_PLACES)}, or the code of an oven; resin and parts lie in resin_store",
        ),
        Column(name="lot", kind=Kind.TEXT, meaning="own code of the lot, at most 40 characters"),
        Column(name="supplier_lot", kind=Kind.TEXT, meaning="the supplier's own mark", empty="none"),
        Column(name="quantity", kind=Kind.NUMBER, unit="of the item", meaning="kg, pieces or spools, above 0"),
    ),
)

ORDERS = FileSchema(
    name="orders.csv",
    meaning="One line of one order, with its outcome where it has one. Rows of an order agree but for the line.",
    key=("channel", "reference", "line_no"),
    is_required=False,
    absent="no orders and no history",
    columns=(
        Column(name="channel", kind=Kind.TEXT, refers_to="channels.csv", meaning="where the order came from"),
        Column(name="reference", kind=Kind.TEXT, meaning="the channel's order number, at most 64 characters"),
        Column(name="kind", kind=Kind.TEXT, meaning="what kind of demand it is", choices=ORDER_KINDS, empty="regular"),
        Column(name="received_at", kind=Kind.INSTANT, meaning="when the order arrived"),
        Column(name="wanted_day", kind=Kind.DATE, meaning="day the customer asked for", empty="as soon as possible"),
        Column(
            name="due_day",
            kind=Kind.DATE,
            meaning="fixed at receipt, where the calendar of today would give another day",
            empty="by the calendar from received_at and wanted_day",
            may_be_absent=True,
        ),
        Column(name="may_part_ship", kind=Kind.YES_NO, meaning="may leave in parts", empty="no"),
        Column(
            name="ship_to",
            kind=Kind.TEXT,
            meaning="address, at most 200 characters",
            empty="not stated",
            may_be_absent=True,
        ),
        Column(name="line_no", kind=Kind.INTEGER, meaning="number of the line in the order, from 1"),
        Column(name="sku", kind=Kind.TEXT, refers_to="skus.csv", meaning="what was ordered"),
        Column(name="quantity", kind=Kind.INTEGER, unit="spools", meaning="as ordered"),
        Column(
            name="shipped",
            kind=Kind.INTEGER,
            unit="spools",
            meaning="left so far",
            empty="all where shipped_day is filled, else 0",
            may_be_absent=True,
        ),
        Column(name="shipped_day", kind=Kind.DATE, meaning="day on which the line was complete", empty="not complete"),
        Column(
            name="cancelled_by",
            kind=Kind.TEXT,
            meaning="who cancelled what had not left",
            choices=("customer", "shop"),
            empty="not cancelled",
        ),
        Column(
            name="cancelled_at",
            kind=Kind.INSTANT,
            meaning="when it was cancelled",
            empty="at once, at received_at",
            may_be_absent=True,
        ),
        Column(
            name="quoted_day",
            kind=Kind.DATE,
            meaning="made to order: the day first promised",
            empty="none",
            may_be_absent=True,
        ),
    ),
)

BOOK_FILES = (CHANNELS, OPENING_STOCK, ORDERS)
