"""Quality of runs: post diameters and masses, read what they say."""

from __future__ import annotations

from dataclasses import asdict

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import read_instant, write_clock
from inventory.api.quality.serializers import (
    DiametersBody,
    MeasuredRunSerializer,
    QualityQuery,
    RunQualitySerializer,
    WeighedLotSerializer,
    WeighingsBody,
)
from inventory.api.views import ApiView, checked_body, checked_query
from inventory.models import DiameterReport
from inventory.selectors.movement_rows import lot_row
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import run_code_of
from inventory.services.quality import post_diameters, post_weighings


class RunQualityView(ApiView):
    """Quality of one run."""

    required_scopes = {"GET": ("plan", "floor")}

    @extend_schema(operation_id="get_run_quality", parameters=[QualityQuery], responses=RunQualitySerializer)
    def get(self, request: Request, run: str) -> Response:
        """Return spread, capability and chart of the diameter, ovality, and the net mass check of each lot."""
        query = checked_query(QualityQuery, request)
        as_of = read_instant(request, as_of=query.get("as_of"))
        return Response(RunQualitySerializer(run_quality(run, as_of=as_of, subgroup_size=query["subgroup_size"])).data)


class RunDiametersView(ApiView):
    """Diameters of one run."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="post_diameters", request=DiametersBody, responses={201: MeasuredRunSerializer})
    def post(self, request: Request, run: str) -> Response:
        """Report diameters of a run; one reading outside the tolerance puts its lots on hold."""
        body = checked_body(DiametersBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        judged = post_diameters(
            run_code=code,
            readings=[(row["x_mm"], row.get("y_mm")) for row in body["readings"]],
            source=DiameterReport.Source(body["source"]),
            document=body["document"],
            clock=clock,
            posted_by=caller_of(request).user,
        )
        answer = asdict(run_quality(code)) | {"held_lots": judged.held_lots}
        return Response(MeasuredRunSerializer(answer).data, status=status.HTTP_201_CREATED)


class LotWeighingsView(ApiView):
    """Masses of spools of one lot."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="post_weighings", request=WeighingsBody, responses={201: WeighedLotSerializer})
    def post(self, request: Request, lot: str) -> Response:
        """Report what spools of a lot weigh; a net mass that does not pass the check puts the lot on hold."""
        body = checked_body(WeighingsBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = lot_row(lot).code
        check = post_weighings(lot_code=code, gross_g=body["gross_g"], clock=clock, posted_by=caller_of(request).user)
        row = {"lot": code, "is_held": lot_row(code).is_held, "net_mass": check}
        return Response(WeighedLotSerializer(row).data, status=status.HTTP_201_CREATED)
