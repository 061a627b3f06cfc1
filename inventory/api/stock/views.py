"""Stock for shops and sales."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.chosen_fields import chosen_of
from inventory.api.clock import read_instant, read_now
from inventory.api.conditional import IF_NONE_MATCH, NOT_MODIFIED, answer_if_new
from inventory.api.pages import page_of
from inventory.api.stock.serializers import (
    StockChangesQuery,
    StockChangesSerializer,
    StockPageSerializer,
    StockQuery,
)
from inventory.api.views import ApiView, checked_query
from inventory.rules.clock import Clock
from inventory.selectors.stock import StockRow, stock_rows
from inventory.selectors.stock_changes import StockChanges, stock_changes
from inventory.services.keeping import end_past_kept


class StockListView(ApiView):
    """What lies on the shelf, what of it is free and what is on its way."""

    required_scopes = {"GET": ("stock:read",)}

    @extend_schema(
        operation_id="list_stock",
        parameters=[StockQuery, IF_NONE_MATCH],
        responses={200: StockPageSerializer, 304: NOT_MODIFIED},
    )
    def get(self, request: Request) -> Response:
        """List stock in the order of SKU codes; of a search the best finds come first."""
        query = checked_query(StockQuery, request)
        as_of = read_instant(request, as_of=query.get("as_of"))
        if as_of is None:
            end_past_kept(clock=Clock.at(read_now(as_of)))
        # Read before the rows: a client that asks for changes since this instant misses none of them.
        read_at = read_now(as_of)
        rows = stock_rows(
            now=read_at,
            as_of=as_of,
            skus=query.get("sku"),
            search=query.get("search"),
            changed_since=query.get("changed_since"),
        )
        rows = [row for row in rows if _cursor(row) > query.get("cursor", "")]
        page, following = page_of(rows, key=_cursor, limit=query["limit"], request=request)
        body = {"as_of": read_at, "next": following, "results": page}
        return answer_if_new(request, StockPageSerializer(body, context=chosen_of(query)).data)


class StockChangesView(ApiView):
    """Stock that changed."""

    required_scopes = {"GET": ("stock:read",)}

    @extend_schema(operation_id="list_stock_changes", parameters=[StockChangesQuery], responses=StockChangesSerializer)
    def get(self, request: Request) -> Response:
        """Return the SKUs whose stock changed since a cursor, as they stand, without `as_of`; no change is missed.

        A client that asks again and again with the cursor of the answer before ends with the stock as it is. After
        the database was restored to another server it begins anew, without a cursor.
        """
        query = checked_query(StockChangesQuery, request)
        given = query.get("cursor", StockChanges.BEGINNING)
        changes = stock_changes(after=given, limit=query["limit"])
        rows = {row.sku_code: row for row in stock_rows(now=read_now(None), skus=changes.sku_codes)}
        results = [rows[code] for code in changes.sku_codes]
        answer = {"cursor": changes.cursor, "has_more": changes.has_more, "results": results}
        return Response(StockChangesSerializer(answer).data)


def _cursor(row: StockRow) -> str:
    """The place of a row in the list: ranks have one digit."""
    return f"{row.search_rank}{row.sku_code}"
