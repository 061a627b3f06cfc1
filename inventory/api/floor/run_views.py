"""Runs: read, start, finish, move, cancel."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.chosen_fields import chosen_of
from inventory.api.clock import instant_asked, instant_in_range, read_instant, read_now, write_clock
from inventory.api.fields import AsOfQuery
from inventory.api.floor.serializers import (
    CancelRunBody,
    FinishRunBody,
    RescheduleRunBody,
    RunPageSerializer,
    RunQuery,
    RunSerializer,
    StartRunBody,
)
from inventory.api.pages import page_of
from inventory.api.views import ApiView, checked_body, checked_query
from inventory.selectors.run_rows import run_code_of, run_row, run_rows
from inventory.services import runs


class RunListView(ApiView):
    """Runs, released and later."""

    required_scopes = {"GET": ("plan", "floor")}

    @extend_schema(operation_id="list_runs", parameters=[RunQuery], responses=RunPageSerializer)
    def get(self, request: Request) -> Response:
        """List runs in the order of their release."""
        query = checked_query(RunQuery, request)
        as_of = read_instant(request, as_of=query.get("as_of"))
        rows = run_rows(
            as_of=as_of,
            state=query.get("state"),
            line_code=query.get("line"),
            filament_code=query.get("filament"),
            after_id=int(query["cursor"]),
            limit=query["limit"] + 1,
        )
        page, following = page_of(rows, key=lambda row: str(row.id), limit=query["limit"], request=request)
        listed = {"as_of": read_now(as_of), "next": following, "results": page}
        return Response(RunPageSerializer(listed, context=chosen_of(query)).data)


class RunView(ApiView):
    """One run."""

    required_scopes = {"GET": ("plan", "floor")}

    @extend_schema(operation_id="get_run", parameters=[AsOfQuery], responses=RunSerializer)
    def get(self, request: Request, run: str) -> Response:
        """Return one run, by its code or its id."""
        as_of = instant_asked(request)
        return Response(RunSerializer(run_row(run, as_of=as_of)).data)


class RunStartView(ApiView):
    """The start of a run."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="start_run", request=StartRunBody, responses=RunSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Report that a run has started; the line holds its filament from now on."""
        body = checked_body(StartRunBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        runs.start_run(
            run_code=code,
            clock=clock,
            drying_from=instant_in_range(body.get("drying_from"), where="/drying_from"),
            posted_by=caller_of(request).user,
        )
        return Response(RunSerializer(run_row(code)).data)


class RunFinishView(ApiView):
    """The end of a run."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="finish_run", request=FinishRunBody, responses=RunSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Report what came of a run: material is used, spools wait for the oven, promises follow what was good."""
        body = checked_body(FinishRunBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        runs.finish_run(
            run_code=code,
            good=body["good"],
            scrap=body["scrap"],
            real_minutes=body["real_minutes"],
            purge_kg=body["purge_kg"],
            resin_kg=body.get("resin_kg"),
            concentrate_kg=body.get("concentrate_kg"),
            clock=clock,
            posted_by=caller_of(request).user,
        )
        return Response(RunSerializer(run_row(code)).data)


class RunCancelView(ApiView):
    """A run that will not be made."""

    required_scopes = {"POST": ("plan", "floor")}

    @extend_schema(operation_id="cancel_run", request=CancelRunBody, responses=RunSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Cancel a run; the orders that were promised its spools are promised anew."""
        body = checked_body(CancelRunBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        runs.cancel_run(run_code=code, clock=clock)
        return Response(RunSerializer(run_row(code)).data)


class RunRescheduleView(ApiView):
    """A run that moves."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="reschedule_run", request=RescheduleRunBody, responses=RunSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Move a released run; the promises on its spools move with it."""
        body = checked_body(RescheduleRunBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        runs.reschedule_run(
            run_code=code,
            planned_start=instant_in_range(body["planned_start"], where="/planned_start"),
            planned_end=instant_in_range(body["planned_end"], where="/planned_end"),
            clock=clock,
        )
        return Response(RunSerializer(run_row(code)).data)
