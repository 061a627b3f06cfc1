"""Stock that leaves without an order, and spools that come back."""

from __future__ import annotations

from collections.abc import Callable

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import write_clock
from inventory.api.floor.movements import MovementSerializer
from inventory.api.floor.serializers import ReturnBody, ScrapBody, TakenBody
from inventory.api.floor.stock_views import FloorView
from inventory.api.views import checked_body
from inventory.models import Movement
from inventory.selectors.movement_rows import movement_row
from inventory.services.returns import receive_return, restock
from inventory.services.scrap import scrap, take_own_use, take_samples


class ScrapView(FloorView):
    """Scrap."""

    @extend_schema(operation_id="scrap", request=ScrapBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report what was thrown away; what was promised of it is promised anew."""
        body = checked_body(ScrapBody, request)
        movement = scrap(
            item_code=body["item"],
            quantity=body["quantity"],
            place_kind=body["place"],
            lot_code=body.get("lot"),
            clock=write_clock(request, stated=body.get("occurred_at")),
            reason=body["reason"],
            posted_by=caller_of(request).user,
        )
        return _created(movement)


class OwnUseView(FloorView):
    """The plant's own use."""

    @extend_schema(operation_id="take_own_use", request=TakenBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report spools that the plant took off the shelf for itself."""
        return _spools_taken(request, take_own_use)


class SamplesView(FloorView):
    """Samples."""

    @extend_schema(operation_id="take_samples", request=TakenBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report spools that were given away as samples."""
        return _spools_taken(request, take_samples)


class ReturnsView(FloorView):
    """What customers send back."""

    @extend_schema(operation_id="receive_return", request=ReturnBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report spools that came back; they wait for inspection and are not for sale."""
        return _spools_returned(request, receive_return)


class RestockView(FloorView):
    """Inspected returns."""

    @extend_schema(operation_id="restock_return", request=ReturnBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report that returned spools are good and lie on the shelf again; waiting orders are served at once."""
        return _spools_returned(request, restock)


def _spools_taken(request: Request, take: Callable[..., Movement]) -> Response:
    body = checked_body(TakenBody, request)
    movement = take(
        sku_code=body["sku"],
        quantity=body["quantity"],
        lot_code=body.get("lot"),
        clock=write_clock(request, stated=body.get("occurred_at")),
        reason=body["reason"],
        posted_by=caller_of(request).user,
    )
    return _created(movement)


def _spools_returned(request: Request, write: Callable[..., Movement]) -> Response:
    body = checked_body(ReturnBody, request)
    movement = write(
        sku_code=body["sku"],
        lot_code=body["lot"],
        quantity=body["quantity"],
        clock=write_clock(request, stated=body.get("occurred_at")),
        reason=body["reason"],
        posted_by=caller_of(request).user,
    )
    return _created(movement)


def _created(movement: Movement) -> Response:
    return Response(MovementSerializer(movement_row(movement)).data, status=status.HTTP_201_CREATED)
