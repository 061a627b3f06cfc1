"""The catalogue."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.chosen_fields import chosen_of
from inventory.api.clock import read_instant, read_now
from inventory.api.pages import page_of
from inventory.api.skus.serializers import SkuPageSerializer, SkuQuery
from inventory.api.views import ApiView, checked_query
from inventory.selectors.skus import sku_rows


class SkuListView(ApiView):
    """What is sold."""

    required_scopes = {"GET": ("stock:read", "orders", "plan", "floor")}

    @extend_schema(operation_id="list_skus", parameters=[SkuQuery], responses=SkuPageSerializer)
    def get(self, request: Request) -> Response:
        """List SKUs in the order of their codes.

        The catalogue keeps no history: `as_of` says on which day a SKU must be on sale, and the rest is as it stands.
        """
        query = checked_query(SkuQuery, request)
        as_of = read_now(read_instant(request, as_of=query.get("as_of")))
        rows = sku_rows(
            day=as_of.date(),
            material=query.get("material"),
            search=query.get("search"),
            is_on_sale=query.get("on_sale"),
            after=query.get("cursor", ""),
            limit=query["limit"] + 1,
        )
        page, following = page_of(rows, key=lambda row: row.sku_code, limit=query["limit"], request=request)
        body = {"as_of": as_of, "next": following, "results": page}
        return Response(SkuPageSerializer(body, context=chosen_of(query)).data)
