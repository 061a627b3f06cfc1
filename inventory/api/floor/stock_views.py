"""What floor, packing and store report: oven loads, packing, counts, receipts, holds."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import write_clock
from inventory.api.floor.movements import CountSerializer, LotSerializer, MovementSerializer, OvenLoadSerializer
from inventory.api.floor.serializers import (
    CountBody,
    HoldBody,
    OvenLoadBody,
    PackBody,
    ReceiptBody,
    ReleaseHoldBody,
)
from inventory.api.views import ApiView, checked_body
from inventory.selectors.movement_rows import lot_row, movement_row, oven_load_row
from inventory.services.carts import load_carts, pack_cart
from inventory.services.counts import post_count
from inventory.services.holds import hold_lot, release_lot
from inventory.services.ovens import load_oven
from inventory.services.packing import pack
from inventory.services.receipts import receive_material


class FloorView(ApiView):
    """A view of what the floor reports."""

    required_scopes = {"POST": ("floor",)}


class OvenLoadsView(FloorView):
    """Loads of the ovens."""

    @extend_schema(operation_id="load_oven", request=OvenLoadBody, responses={201: OvenLoadSerializer})
    def post(self, request: Request) -> Response:
        """Report that wound spools, or carts with all on them, went into an oven."""
        body = checked_body(OvenLoadBody, request)
        report: dict[str, Any] = {
            "oven_code": body["oven"],
            "clock": write_clock(request, stated=body.get("occurred_at")),
            "temperature_c": body.get("temperature_c"),
            "hours": body.get("hours"),
            "posted_by": caller_of(request).user,
        }
        if "carts" in body:
            load = load_carts(cart_codes=body["carts"], **report)
        else:
            load = load_oven(spools=_spools(body), **report)
        return Response(OvenLoadSerializer(oven_load_row(load)).data, status=status.HTTP_201_CREATED)


class PackView(FloorView):
    """Packing."""

    @extend_schema(operation_id="pack_spools", request=PackBody, responses={201: MovementSerializer})
    def post(self, request: Request) -> Response:
        """Report that dried spools, or all of a cart, were packed and lie on the shelf; orders that wait are served."""
        body = checked_body(PackBody, request)
        clock, by = write_clock(request, stated=body.get("occurred_at")), caller_of(request).user
        if "cart" in body:
            movement = pack_cart(cart_code=body["cart"], clock=clock, posted_by=by)
        else:
            movement = pack(spools=_spools(body), clock=clock, posted_by=by)
        return Response(MovementSerializer(movement_row(movement)).data, status=status.HTTP_201_CREATED)


class CountsView(FloorView):
    """Counts."""

    @extend_schema(operation_id="post_count", request=CountBody, responses={201: CountSerializer})
    def post(self, request: Request) -> Response:
        """Report what was counted; the books follow, and promises that no longer hold are made anew."""
        body = checked_body(CountBody, request)
        movement = post_count(
            item_code=body["item"],
            place_kind=body["place"],
            lot_code=body.get("lot"),
            counted=body["counted"],
            clock=write_clock(request, stated=body.get("occurred_at")),
            posted_by=caller_of(request).user,
            reason=body["reason"],
        )
        row = None if movement is None else movement_row(movement)
        return Response(CountSerializer({"movement": row}).data, status=status.HTTP_201_CREATED)


class ReceiptsView(FloorView):
    """Deliveries of suppliers."""

    @extend_schema(operation_id="receive_material", request=ReceiptBody, responses={201: LotSerializer})
    def post(self, request: Request) -> Response:
        """Report a delivery of material or parts."""
        body = checked_body(ReceiptBody, request)
        lot = receive_material(
            item_code=body["item"],
            quantity=body["quantity"],
            lot_code=body["lot"],
            supplier_lot=body["supplier_lot"],
            clock=write_clock(request, stated=body.get("occurred_at")),
            posted_by=caller_of(request).user,
            document=body["document"],
        )
        return Response(LotSerializer(lot_row(lot.code)).data, status=status.HTTP_201_CREATED)


class HoldsView(FloorView):
    """Lots held for quality."""

    @extend_schema(operation_id="hold_lot", request=HoldBody, responses={201: LotSerializer})
    def post(self, request: Request) -> Response:
        """Hold a lot wherever it is; promises on it are made anew."""
        body = checked_body(HoldBody, request)
        hold_lot(
            lot_code=body["lot"],
            clock=write_clock(request, stated=body.get("occurred_at")),
            posted_by=caller_of(request).user,
            reason=body["reason"],
        )
        return Response(LotSerializer(lot_row(body["lot"])).data, status=status.HTTP_201_CREATED)


class HoldReleaseView(FloorView):
    """The end of a hold."""

    @extend_schema(operation_id="release_held_lot", request=ReleaseHoldBody, responses=LotSerializer)
    def post(self, request: Request, lot: str) -> Response:
        """Release a held lot to where it was."""
        body = checked_body(ReleaseHoldBody, request)
        code = lot_row(lot).code
        release_lot(
            lot_code=code,
            clock=write_clock(request, stated=body.get("occurred_at")),
            posted_by=caller_of(request).user,
            reason=body["reason"],
        )
        return Response(LotSerializer(lot_row(code)).data)


def _spools(body: dict[str, Any]) -> list[tuple[str | None, str, int]]:
    return [(row.get("source"), row["sku"], row["quantity"]) for row in body["spools"]]
