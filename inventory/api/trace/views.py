"""Tracing of lots, for recalls: what went into what, and who got it."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import instant_asked, read_now
from inventory.api.fields import AsOfQuery
from inventory.api.orders.channels import check_sees_order, check_sees_shipment
from inventory.api.trace.serializers import TraceSerializer
from inventory.api.views import ApiView
from inventory.selectors.lots import Trace, trace_lot, trace_order, trace_run, trace_shipment


class OrderTraceView(ApiView):
    """From an order to its lots."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="trace_order", parameters=[AsOfQuery], responses=TraceSerializer)
    def get(self, request: Request, order: int) -> Response:
        """Trace what left with an order back to its runs and material, and forward to all who got of these lots."""
        as_of = instant_asked(request)
        check_sees_order(caller_of(request), order)
        return _answer(request, trace_order(order, as_of=as_of), as_of=as_of)


class ShipmentTraceView(ApiView):
    """From a shipment to its lots."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="trace_shipment", parameters=[AsOfQuery], responses=TraceSerializer)
    def get(self, request: Request, shipment: int) -> Response:
        """Trace one shipment like an order."""
        as_of = instant_asked(request)
        check_sees_shipment(caller_of(request), shipment)
        return _answer(request, trace_shipment(shipment, as_of=as_of), as_of=as_of)


class RunTraceView(ApiView):
    """From a run to its material and its customers."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="trace_run", parameters=[AsOfQuery], responses=TraceSerializer)
    def get(self, request: Request, run: str) -> Response:
        """Trace all that a run wound back to its material, and forward to its customers."""
        as_of = instant_asked(request)
        return _answer(request, trace_run(run, as_of=as_of), as_of=as_of)


class LotTraceView(ApiView):
    """From a lot to its customers."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="trace_lot", parameters=[AsOfQuery], responses=TraceSerializer)
    def get(self, request: Request, lot: str) -> Response:
        """Trace a lot of material or spools forward to its customers, and spools back to their material."""
        as_of = instant_asked(request)
        return _answer(request, trace_lot(lot, as_of=as_of), as_of=as_of)


def _answer(request: Request, found: Trace, *, as_of: datetime | None) -> Response:
    """Answer a trace; a token of one channel is told of its own customers only."""
    channel = caller_of(request).channel_code
    if channel is not None:
        found = replace(found, delivered=tuple(row for row in found.delivered if row.channel_code == channel))
    return Response(TraceSerializer(asdict(found) | {"runs": found.runs, "as_of": read_now(as_of)}).data)
