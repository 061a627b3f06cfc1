"""Shapes of orders and of the promises that answer them."""

from __future__ import annotations

from rest_framework import serializers

from inventory.api.chosen_fields import ChosenFieldsSerializer, FieldNamesField
from inventory.api.fields import (
    MAX_SPOOLS,
    AsOfQuery,
    CodeField,
    CountField,
    FlagField,
    InstantField,
    KindField,
    NoteField,
    OccurredSerializer,
    PatternField,
    Shape,
    StrictSerializer,
    TextField,
    rows_of,
)
from inventory.api.pages import IdPageQuery, PageSerializer
from inventory.models import Order

MAX_LINES = 100
MAX_ORDERS = 500
REFERENCE_PATTERN = r"^[!-~]{1,64}$"


# What is kept for a visitor is no order yet: only the counter takes it.
ORDERED_KINDS = [(kind.value, kind.label) for kind in Order.Kind if kind is not Order.Kind.KEPT]


class OrderLineBody(StrictSerializer):
    """One line of an order."""

    sku = CodeField(help_text="code of the SKU")
    quantity = CountField(min_value=1, max_value=MAX_SPOOLS, help_text="spools")


class OrderBody(StrictSerializer):
    """An order as a channel posts it."""

    channel = CodeField(required=False, help_text="where the order comes from; a token of one channel may leave it out")
    reference = PatternField(
        REFERENCE_PATTERN,
        help_text="the channel's own number of the order, unique in the channel: printable ASCII, no blanks",
    )
    kind = KindField(choices=ORDERED_KINDS, default=Order.Kind.REGULAR, help_text="regular, project or own use")
    received_at = InstantField(required=False, help_text="needs the scope replay; left out: now. Fixes the due day")
    wanted_day = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="the customer asks for this day, not an earlier one"
    )
    may_part_ship = FlagField(default=False, help_text="whether lines may ship on different days")
    ship_to = NoteField(max_length=200, help_text="where it goes")
    lines = rows_of(OrderLineBody, at_most=MAX_LINES, help_text="1 to 100, each SKU once")


class AmendBody(OccurredSerializer):
    """What of an order changes. Neither moves the due day."""

    lines = rows_of(OrderLineBody, at_most=MAX_LINES, required=False, help_text="all lines as they are to stand")
    wanted_day = serializers.DateField(
        required=False, allow_null=True, help_text="not to ship before this day; null: withdrawn"
    )


class CancelBody(OccurredSerializer):
    """Who cancels. A customer's own cancellation takes the order out of the service share; the shop's does not."""

    by = KindField(choices=["customer", "shop"], help_text="who cancels")


class SupplyPromiseSerializer(Shape):
    """Spools of a run that belong to the line before they reach the shelf."""

    run = serializers.CharField(source="run_code", help_text="code of the run")
    quantity = serializers.IntegerField(help_text="spools")
    ship_day = serializers.DateField(help_text="the day on which they can leave")


class LinePromiseSerializer(Shape):
    """One line as it stands and what it is promised."""

    line_no = serializers.IntegerField(help_text="number of the line in its order")
    sku = serializers.CharField(source="sku_code", help_text="code of the SKU")
    quantity = serializers.IntegerField(help_text="spools ordered")
    shipped = serializers.IntegerField(help_text="spools that have left")
    from_shelf = serializers.IntegerField(help_text="spools allocated from the shelf")
    from_supply = SupplyPromiseSerializer(many=True, help_text="spools allocated from runs before they reach the shelf")
    unpromised = serializers.IntegerField(help_text="spools for which nothing is planned")
    promised_day = serializers.DateField(allow_null=True, help_text="ship day of the whole line; null: see unpromised")
    quoted_day = serializers.DateField(allow_null=True, help_text="made to order: the day first promised")
    shipped_complete_day = serializers.DateField(allow_null=True, help_text="the day on which its last spool left")
    earliest_capacity_day = serializers.DateField(
        allow_null=True, help_text="where something is unpromised: the day on which the lines could give it"
    )


class OrderSerializer(Shape):
    """An order as it stands and what it is promised."""

    id = serializers.IntegerField(source="order_id", help_text="of the order")
    channel = serializers.CharField(help_text="where the order comes from")
    reference = serializers.CharField(help_text="the channel's own number of the order")
    kind = serializers.ChoiceField(choices=Order.Kind.choices, help_text="regular, project or own use")
    state = serializers.ChoiceField(choices=Order.State.choices, help_text="open, shipped or cancelled")
    received_at = serializers.DateTimeField(help_text="when it arrived")
    wanted_day = serializers.DateField(allow_null=True, help_text="the day that the customer asked for, as it stands")
    due_day = serializers.DateField(help_text="the day on which it should leave; fixed at receipt")
    may_part_ship = serializers.BooleanField(help_text="whether lines may ship on different days")
    ship_to = serializers.CharField(help_text="where it goes")
    ship_day = serializers.DateField(allow_null=True, help_text="day of the last line; null: see reason")
    reason = serializers.CharField(help_text='why there is no ship day; "" where there is one')
    earliest_capacity_day = serializers.DateField(
        allow_null=True, help_text="the day that capacity could give where nothing is planned; null: none in sight"
    )
    replayed = serializers.BooleanField(help_text="true: this reference was posted before, nothing was changed")
    lines = LinePromiseSerializer(many=True, help_text="each SKU once")


class OrderRowSerializer(ChosenFieldsSerializer, OrderSerializer):
    """An order of a list."""


class OrderQuery(IdPageQuery, AsOfQuery):
    """Which orders to list."""

    channel = TextField(required=False, max_length=32, help_text="where the order comes from")
    reference = TextField(required=False, max_length=64, help_text="the channel's own number of the order")
    state = KindField(choices=Order.State.choices, required=False)
    due_from = serializers.DateField(required=False, help_text="due on this day or later")
    due_to = serializers.DateField(required=False, help_text="due on this day or earlier")
    fields = FieldNamesField(OrderRowSerializer)  # type: ignore[assignment]  # a declared field, not the attribute of the serializer


class OrderPageSerializer(PageSerializer):
    """A page of orders."""

    results = OrderRowSerializer(many=True, help_text="rows of the page")


class OrderBulkBody(StrictSerializer):
    """Orders that are posted together; each stands for itself."""

    orders = rows_of(OrderBody, at_most=MAX_ORDERS, help_text="1 to 500")


class OrderFaultSerializer(Shape):
    """Why one order of many was refused."""

    detail = serializers.CharField(help_text="what is wrong")
    code = serializers.CharField(help_text="stable name of the broken rule, as in a problem document")
    pointer = serializers.CharField(help_text="JSON pointer into the body, as URI fragment")


class OrderOutcomeSerializer(Shape):
    """What came of one order of many."""

    reference = serializers.CharField(help_text="the channel's own number of the order")
    outcome = serializers.ChoiceField(
        choices=["placed", "replayed", "refused"], help_text="placed, replayed or refused"
    )
    order = OrderSerializer(allow_null=True, help_text="null: refused")
    error = OrderFaultSerializer(allow_null=True, help_text="null: not refused")


class OrderBulkSerializer(Shape):
    """What came of the orders, in the order in which they were posted."""

    results = OrderOutcomeSerializer(many=True, help_text="one for each order")
