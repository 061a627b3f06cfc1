"""Orders: post, read, amend, cancel."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.chosen_fields import chosen_of
from inventory.api.clock import day_in_range, instant_asked, read_instant, read_now, receipt_clock, write_clock
from inventory.api.conditional import IF_MATCH, version_header, versions_that_match
from inventory.api.fields import AsOfQuery
from inventory.api.orders.channels import channel_to_list, channel_to_post, check_sees_order
from inventory.api.orders.serializers import (
    AmendBody,
    CancelBody,
    OrderBody,
    OrderBulkBody,
    OrderBulkSerializer,
    OrderPageSerializer,
    OrderQuery,
    OrderSerializer,
)
from inventory.api.pages import page_of
from inventory.api.views import ApiView, checked_body, checked_query
from inventory.errors import BooksError
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.selectors.capacity import with_capacity
from inventory.selectors.orders import order_receipt, order_receipts
from inventory.services.amendments import UNCHANGED, amend_order, cancel_order
from inventory.services.orders import Arrival, place_order, place_orders
from inventory.wording import in_words


class OrderListView(ApiView):
    """Orders."""

    required_scopes = {"GET": ("orders",), "POST": ("orders",)}

    @extend_schema(operation_id="list_orders", parameters=[OrderQuery], responses=OrderPageSerializer)
    def get(self, request: Request) -> Response:
        """List orders in the order of their posting."""
        query = checked_query(OrderQuery, request)
        as_of = read_instant(request, as_of=query.get("as_of"))
        rows = order_receipts(
            as_of=as_of,
            channel=channel_to_list(caller_of(request), query.get("channel")),
            reference=query.get("reference"),
            state=query.get("state"),
            due_from=query.get("due_from"),
            due_to=query.get("due_to"),
            after_id=int(query["cursor"]),
            limit=query["limit"] + 1,
        )
        page, following = page_of(rows, key=lambda row: str(row.order_id), limit=query["limit"], request=request)
        listed = {"as_of": read_now(as_of), "next": following, "results": page}
        return Response(OrderPageSerializer(listed, context=chosen_of(query)).data)

    @extend_schema(
        operation_id="place_order",
        request=OrderBody,
        responses={
            201: OrderSerializer,
            200: OpenApiResponse(OrderSerializer, description="the same order was posted before; nothing was changed"),
        },
    )
    def post(self, request: Request) -> Response:
        """Take an order in and answer at once what it is promised, from the shelf and from which run."""
        arrival = _arrival(request, checked_body(OrderBody, request))
        receipt = place_order(body=arrival.body, clock=arrival.clock)
        code = status.HTTP_200_OK if receipt.replayed else status.HTTP_201_CREATED
        return Response(OrderSerializer(receipt).data, status=code)


class OrderBulkView(ApiView):
    """Many orders at once."""

    required_scopes = {"POST": ("orders",)}

    @extend_schema(operation_id="place_orders", request=OrderBulkBody, responses={200: OrderBulkSerializer})
    def post(self, request: Request) -> Response:
        """Take in up to 500 orders, each for itself, in their order: one that is refused does not stop the others."""
        rows = checked_body(OrderBulkBody, request)["orders"]
        outcomes = _placed_together([_arrival_or_error(request, row) for row in rows])
        results = [
            _outcome(row, outcome, pointer=f"/orders/{number}")
            for number, (row, outcome) in enumerate(zip(rows, outcomes, strict=True))
        ]
        return Response(OrderBulkSerializer({"results": results}).data)


class OrderView(ApiView):
    """One order."""

    required_scopes = {"GET": ("orders",), "PATCH": ("orders",)}

    @extend_schema(operation_id="get_order", parameters=[AsOfQuery], responses=OrderSerializer)
    def get(self, request: Request, order: int) -> Response:
        """Return one order with its promises as they stand."""
        as_of = instant_asked(request)
        check_sees_order(caller_of(request), order)
        receipt = with_capacity(order_receipt(order, as_of=as_of), as_of=read_now(as_of))
        return Response(OrderSerializer(receipt).data, headers=version_header(receipt.version))

    @extend_schema(operation_id="amend_order", parameters=[IF_MATCH], request=AmendBody, responses=OrderSerializer)
    def patch(self, request: Request, order: int) -> Response:
        """Change lines or wanted day of an open order; its due day stays. `If-Match` guards against another change."""
        body = checked_body(AmendBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        check_sees_order(caller_of(request), order)
        receipt = amend_order(
            order_id=order,
            lines=_lines(body["lines"]) if "lines" in body else None,
            wanted_day=day_in_range(body["wanted_day"], where="/wanted_day") if "wanted_day" in body else UNCHANGED,
            clock=clock,
            versions=versions_that_match(request),
        )
        return Response(OrderSerializer(receipt).data, headers=version_header(receipt.version))


class OrderCancelView(ApiView):
    """The end of an order that does not ship."""

    required_scopes = {"POST": ("orders",)}

    @extend_schema(operation_id="cancel_order", request=CancelBody, responses=OrderSerializer)
    def post(self, request: Request, order: int) -> Response:
        """Cancel what has not shipped; its spools are promised to the orders that wait."""
        body = checked_body(CancelBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        check_sees_order(caller_of(request), order)
        receipt = cancel_order(order_id=order, by=body["by"], clock=clock)
        return Response(OrderSerializer(receipt).data)


def _lines(rows: list[dict[str, Any]]) -> list[tuple[str, int]]:
    return [(row["sku"], row["quantity"]) for row in rows]


def _arrival(request: Request, body: dict[str, Any]) -> Arrival:
    clock = receipt_clock(request, stated=body.get("received_at"))
    draft = OrderDraft(
        channel_code=channel_to_post(caller_of(request), body.get("channel")),
        reference=body["reference"],
        lines=_lines(body["lines"]),
        may_part_ship=body["may_part_ship"],
        wanted_day=day_in_range(body["wanted_day"], where="/wanted_day"),
        kind=body["kind"],
        ship_to=body["ship_to"],
    )
    return Arrival(draft, clock)


def _arrival_or_error(request: Request, body: dict[str, Any]) -> Arrival | BooksError:
    try:
        return _arrival(request, body)
    except BooksError as error:
        return error


def _placed_together(arrivals: list[Arrival | BooksError]) -> list[OrderReceipt | BooksError]:
    """What came of each; those that can be placed are placed in one go."""
    outcomes = iter(place_orders([each for each in arrivals if isinstance(each, Arrival)]))
    return [next(outcomes) if isinstance(each, Arrival) else each for each in arrivals]


def _outcome(row: dict[str, Any], outcome: OrderReceipt | BooksError, *, pointer: str) -> dict[str, Any]:
    """What came of one order of many; a broken rule points into the whole body."""
    if isinstance(outcome, BooksError):
        fault = {"detail": in_words(outcome), "code": outcome.code, "pointer": f"#{pointer}{outcome.pointer}"}
        return {"reference": row["reference"], "outcome": "refused", "order": None, "error": fault}
    word = "replayed" if outcome.replayed else "placed"
    return {"reference": row["reference"], "outcome": word, "order": outcome, "error": None}
