"""Carts as the floor uses them."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.floor.movements import CartPageSerializer
from inventory.api.pages import PageQuery, page_of
from inventory.api.views import ApiView, checked_query
from inventory.selectors.carts import carts


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
