"""Carts as the floor uses them."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import write_clock
from inventory.api.floor.movements import CartPageSerializer, CartSerializer
from inventory.api.floor.serializers import UnloadCartBody
from inventory.api.pages import PageQuery, page_of
from inventory.api.views import ApiView, checked_body, checked_query
from inventory.selectors.carts import cart_row, carts
from inventory.services.carts import unload_cart


class CartsView(ApiView):
    """Carts."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="list_carts", parameters=[PageQuery], responses=CartPageSerializer)
    def get(self, request: Request) -> Response:
        """List carts in the order of their codes with what stands on them, as they stand, without `as_of`."""
        query = checked_query(PageQuery, request)
        rows = carts(after=query.get("cursor", ""), limit=query["limit"] + 1)
        page, following = page_of(rows, key=lambda row: row.code, limit=query["limit"], request=request)
        return Response(CartPageSerializer({"next": following, "results": page}).data)


class CartUnloadView(ApiView):
    """A cart on its way out of an oven."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="unload_cart", request=UnloadCartBody, responses=CartSerializer)
    def post(self, request: Request, cart: str) -> Response:
        """Report that a cart came out of its oven, dry, with the whole load: it waits to be packed."""
        body = checked_body(UnloadCartBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        unload_cart(cart_code=cart, clock=clock, posted_by=caller_of(request).user)
        return Response(CartSerializer(cart_row(cart)).data)
