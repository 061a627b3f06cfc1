"""Make lists: compute, read, release."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import instant_asked, read_instant, read_now, write_clock
from inventory.api.fields import AsOfQuery
from inventory.api.floor.serializers import RunSerializer
from inventory.api.views import ApiView, checked_body
from inventory.selectors.run_rows import run_row
from stockplan.planner.api.lookup import listed_run_of, make_list_known
from stockplan.planner.api.run_order_serializers import RunOrderBody, RunOrderSerializer
from stockplan.planner.api.serializers import MakeListBody, MakeListSerializer, ReleaseBody
from stockplan.planner.api.what_if_serializers import WhatIfBody, WhatIfSerializer
from stockplan.planner.core.run_order import Move, RunOrderError
from stockplan.planner.core.whatif import changes_of
from stockplan.planner.selectors.make_lists import latest_make_list, make_list_detail
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.release import release_list, release_listed_run
from stockplan.planner.services.run_order import set_order, try_order
from stockplan.planner.services.what_if import what_if


class MakeListsView(ApiView):
    """Make lists."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="compute_make_list", request=MakeListBody, responses={201: MakeListSerializer})
    def post(self, request: Request) -> Response:
        """Forecast, set targets and compute the ranked list of runs."""
        body = checked_body(MakeListBody, request)
        as_of = read_now(read_instant(request, as_of=body.get("as_of"), in_body=True))
        made = compute_make_list(as_of=as_of, now=as_of, days=body.get("days"), created_by=caller_of(request).user)
        return Response(MakeListSerializer(make_list_detail(made.id)).data, status=status.HTTP_201_CREATED)


class WhatIfView(ApiView):
    """The newest list with something otherwise."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="what_if", request=WhatIfBody, responses=WhatIfSerializer)
    def post(self, request: Request) -> Response:
        """Compute the newest list anew with changes and say what they cost in misses; no list is stored or changed."""
        changes = changes_of(checked_body(WhatIfBody, request)["changes"])
        return Response(WhatIfSerializer(what_if(changes, now=timezone.now())).data)


class RunOrderView(ApiView):
    """The order of the runs that wait for the lines."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="order_runs", request=RunOrderBody, responses=RunOrderSerializer)
    def post(self, request: Request) -> Response:
        """Say what another order of runs would cost; with `set`, write it.

        Released runs get a new plan and their orders new promises; runs of the newest list are pinned to their places,
        which the next list respects.
        """
        body = checked_body(RunOrderBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        moves, seen = (
            [Move(key=move["run"], line=move["line"], place=move["place"]) for move in body["moves"]],
            body.get("seen"),
        )
        if not body.get("set"):
            found = try_order(moves, now=clock.occurred_at, seen=seen)
        elif seen is None:
            raise RunOrderError("Setting an order needs the `seen` of the answer that was looked at.", pointer="/seen")
        else:
            found = set_order(moves, seen=seen, clock=clock, by=caller_of(request).user)
        return Response(RunOrderSerializer(found).data)


class LatestMakeListView(ApiView):
    """The newest make list."""

    required_scopes = {"GET": ("plan", "floor")}

    @extend_schema(operation_id="get_latest_make_list", parameters=[AsOfQuery], responses=MakeListSerializer)
    def get(self, request: Request) -> Response:
        """Return the newest list."""
        as_of = instant_asked(request)
        return Response(MakeListSerializer(latest_make_list(as_of=as_of)).data)


class MakeListView(ApiView):
    """One make list."""

    required_scopes = {"GET": ("plan", "floor")}

    @extend_schema(operation_id="get_make_list", parameters=[AsOfQuery], responses=MakeListSerializer)
    def get(self, request: Request, make_list: UUID) -> Response:
        """Return one list."""
        as_of = instant_asked(request)
        return Response(MakeListSerializer(make_list_known(make_list, as_of=as_of)).data)


class MakeListReleaseView(ApiView):
    """Release of a whole list."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="release_make_list", request=ReleaseBody, responses=MakeListSerializer)
    def post(self, request: Request, make_list: UUID) -> Response:
        """Release every run of the list that is not blocked; promises may be made on them from now on."""
        body = checked_body(ReleaseBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        release_list(make_list_id=make_list, clock=clock, released_by=caller_of(request).user)
        return Response(MakeListSerializer(make_list_detail(make_list)).data)


class ListedRunReleaseView(ApiView):
    """Release of one run of a list."""

    required_scopes = {"POST": ("plan",)}

    @extend_schema(operation_id="release_listed_run", request=ReleaseBody, responses={201: RunSerializer})
    def post(self, request: Request, make_list: UUID, rank: int) -> Response:
        """Release one run of the list. New lists begin behind it: release what stands before it on its line first."""
        body = checked_body(ReleaseBody, request)
        clock = write_clock(request, stated=body.get("occurred_at"))
        listed_run = listed_run_of(make_list, rank=rank)
        run = release_listed_run(listed_run_id=listed_run, clock=clock, by=caller_of(request).user)
        return Response(RunSerializer(run_row(run.code)).data, status=status.HTTP_201_CREATED)
