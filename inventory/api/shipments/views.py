"""Shipments."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import write_clock
from inventory.api.orders.channels import check_sees_order
from inventory.api.shipments.serializers import ShipmentBody, ShipmentSerializer
from inventory.api.views import ApiView, checked_body
from inventory.order_errors import QuantityError
from inventory.selectors.shipment_rows import shipment_row
from inventory.services.shipments import ship_order


class ShipmentsView(ApiView):
    """What leaves."""

    required_scopes = {"POST": ("ship",)}

    @extend_schema(operation_id="ship_order", request=ShipmentBody, responses={201: ShipmentSerializer})
    def post(self, request: Request) -> Response:
        """Ship an order whole, or a part of it if it may part-ship; only what it holds of the shelf."""
        body = checked_body(ShipmentBody, request)
        check_sees_order(caller_of(request), body["order"], pointer="/order")
        shipment = ship_order(
            order_id=body["order"],
            lines=_spools_by_line(body["lines"]) if "lines" in body else None,
            clock=write_clock(request, stated=body.get("occurred_at")),
            posted_by=caller_of(request).user,
            document=body["document"],
        )
        return Response(ShipmentSerializer(shipment_row(shipment)).data, status=status.HTTP_201_CREATED)


def _spools_by_line(rows: list[dict[str, int]]) -> dict[int, int]:
    """Spools by line number; a line that is named twice is refused, not added up."""
    spools: dict[int, int] = {}
    for index, row in enumerate(rows):
        if row["line_no"] in spools:
            raise QuantityError(
                "Line {line_no} is named twice.", line_no=row["line_no"], pointer=f"/lines/{index}/line_no"
            )
        spools[row["line_no"]] = row["quantity"]
    return spools
