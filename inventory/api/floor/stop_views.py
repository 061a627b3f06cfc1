"""Stops of a run: when its line stood still, and why."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import instant_asked, write_clock
from inventory.api.fields import AsOfQuery, KindField, NoteField, OccurredSerializer
from inventory.api.views import ApiView, checked_body
from inventory.models import RunStop
from inventory.selectors.run_rows import run_code_of
from inventory.selectors.run_stops import stops_of_run
from inventory.services.run_stops import MAX_NOTE_LENGTH, let_run_go_on, stop_run


class StopRunBody(OccurredSerializer):
    """A run stops."""

    reason = KindField(choices=RunStop.Reason.choices, help_text="why the line stands")
    note = NoteField(max_length=MAX_NOTE_LENGTH, help_text="in words; needed for another reason")


class GoOnBody(OccurredSerializer):
    """A run goes on."""


class RunStopSerializer(serializers.Serializer[Any]):
    """One stop of a run."""

    reason = serializers.ChoiceField(choices=RunStop.Reason.choices, help_text="why the line stood")
    note = serializers.CharField(help_text="in words")
    stopped_at = serializers.DateTimeField(help_text="when the line stopped")
    went_on_at = serializers.DateTimeField(allow_null=True, help_text="when it went on; null: it still stands")


class RunStopsSerializer(serializers.Serializer[Any]):
    """The stops of one run."""

    run = serializers.CharField(help_text="code of the run")
    stops = RunStopSerializer(many=True, help_text="in the order of their beginning")


class RunStopsView(ApiView):
    """Stops of one run."""

    required_scopes = {"GET": ("plan", "floor"), "POST": ("floor",)}

    @extend_schema(operation_id="list_run_stops", parameters=[AsOfQuery], responses=RunStopsSerializer)
    def get(self, request: Request, run: str) -> Response:
        """List the stops of a run with their reasons."""
        as_of = instant_asked(request)
        code = run_code_of(run)
        return Response(RunStopsSerializer({"run": code, "stops": stops_of_run(code, as_of=as_of)}).data)

    @extend_schema(operation_id="stop_run", request=StopRunBody, responses={201: RunStopsSerializer})
    def post(self, request: Request, run: str) -> Response:
        """Report that the line of a run stands still, and why; the run stays under way."""
        body = checked_body(StopRunBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        stop_run(
            run_code=code, reason=body["reason"], note=body["note"], clock=clock, posted_by=caller_of(request).user
        )
        answer = RunStopsSerializer({"run": code, "stops": stops_of_run(code)})
        return Response(answer.data, status=status.HTTP_201_CREATED)


class RunGoOnView(ApiView):
    """The end of a stop."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="let_run_go_on", request=GoOnBody, responses=RunStopsSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Report that a run that stood goes on."""
        body = checked_body(GoOnBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        let_run_go_on(run_code=code, clock=clock)
        return Response(RunStopsSerializer({"run": code, "stops": stops_of_run(code)}).data)
