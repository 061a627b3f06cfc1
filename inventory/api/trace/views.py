"""Tracing of lots, for recalls."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import Caller, caller_of
from inventory.api.clock import read_instant, read_now
from inventory.api.orders.channels import check_sees_order
from inventory.api.trace.serializers import TraceQuery, TraceSerializer
from inventory.api.views import ApiView, checked_query
from inventory.errors import NotFoundError
from inventory.models import Shipment
from inventory.selectors.lots import Trace, trace_lot, trace_order, trace_shipment


class TraceView(ApiView):
    """What went into what, and who got it."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="trace", parameters=[TraceQuery], responses=TraceSerializer)
    def get(self, request: Request) -> Response:
        """Trace an order, a shipment or a lot back to its material and forward to every customer."""
        query = checked_query(TraceQuery, request)
        as_of = read_instant(request, as_of=query.get("as_of"))
        caller = caller_of(request)
        found = _traced(query, caller=caller, as_of=as_of)
        if caller.channel_code is not None:
            own = tuple(row for row in found.delivered if row.channel_code == caller.channel_code)
            found = replace(found, delivered=own)
        return Response(TraceSerializer(asdict(found) | {"runs": found.runs, "as_of": read_now(as_of)}).data)


def _traced(query: dict[str, Any], *, caller: Caller, as_of: datetime | None) -> Trace:
    if "order" in query:
        check_sees_order(caller, query["order"], pointer="?order")
        return trace_order(query["order"], as_of=as_of)
    if "shipment" in query:
        order_id = Shipment.objects.filter(pk=query["shipment"]).values_list("order_id", flat=True).first()
        if order_id is None:
            raise NotFoundError(f"There is no shipment {query['shipment']}.", pointer="?shipment")
        check_sees_order(caller, order_id, pointer="?shipment")
        return trace_shipment(query["shipment"], as_of=as_of)
    return trace_lot(query["lot"], as_of=as_of)
