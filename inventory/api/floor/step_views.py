"""Steps of a run's changeover, as the floor ticks them."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import instant_asked, write_clock
from inventory.api.fields import AsOfQuery, FlagField, KindField, OccurredSerializer
from inventory.api.views import ApiView, checked_body
from inventory.models import StepTick
from inventory.selectors.changeover_steps import steps_of_run
from inventory.selectors.run_rows import run_code_of
from inventory.services.changeover_steps import tick_step


class TickStepBody(OccurredSerializer):
    """A step is ticked, or its tick taken back."""

    step = KindField(choices=StepTick.Step.choices, help_text="which step")
    is_done = FlagField(help_text="true: ticked; false: the tick was a mistake and is taken back")


class TickSerializer(serializers.Serializer[Any]):
    """One tick, or its taking back."""

    is_done = serializers.BooleanField(help_text="true: ticked; false: taken back")
    occurred_at = serializers.DateTimeField(help_text="when")
    by = serializers.CharField(allow_null=True, help_text="log-in of who said so; null: nobody is named")


class StepSerializer(serializers.Serializer[Any]):
    """One step of a changeover."""

    step = serializers.ChoiceField(choices=StepTick.Step.choices, help_text="which step")
    text = serializers.CharField(source="label", help_text="what it asks, in words")
    is_needed = serializers.BooleanField(help_text="false: ticked for a changeover that the run had before it moved")
    is_done = serializers.BooleanField(help_text="whether its tick stands")
    ticks = TickSerializer(many=True, help_text="in their order, the last one stands")


class RunStepsSerializer(serializers.Serializer[Any]):
    """The steps of the changeover of one run."""

    run = serializers.CharField(help_text="code of the run")
    steps = StepSerializer(many=True, help_text="in the order in which they are done")


class RunStepsView(ApiView):
    """Steps of one run's changeover."""

    required_scopes = {"GET": ("plan", "floor"), "POST": ("floor",)}

    @extend_schema(operation_id="list_changeover_steps", parameters=[AsOfQuery], responses=RunStepsSerializer)
    def get(self, request: Request, run: str) -> Response:
        """List the steps that the changeover of a run has, with who ticked what."""
        as_of = instant_asked(request)
        code = run_code_of(run)
        return Response(RunStepsSerializer({"run": code, "steps": steps_of_run(code, as_of=as_of)}).data)

    @extend_schema(operation_id="tick_changeover_step", request=TickStepBody, responses=RunStepsSerializer)
    def post(self, request: Request, run: str) -> Response:
        """Tick a step of a run's changeover, or take its tick back; what stands already is left as it is."""
        body = checked_body(TickStepBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        code = run_code_of(run)
        tick_step(
            run_code=code,
            step=body["step"],
            is_done=body["is_done"],
            clock=clock,
            posted_by=caller_of(request).user,
        )
        return Response(RunStepsSerializer({"run": code, "steps": steps_of_run(code)}).data)
