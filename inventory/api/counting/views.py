"""Blind cycle counts: sheets, counts, accuracy, and what to count next."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.api.clock import check_days, read_instant, read_now, write_clock
from inventory.api.counting.serializers import (
    AccuracyQuery,
    CloseSheetBody,
    CountAccuracySerializer,
    CountedSerializer,
    CountSheetBody,
    CountSheetPageSerializer,
    CountSheetSerializer,
    NextCountQuery,
    NextCountsSerializer,
    NoQuery,
    SheetCountBody,
)
from inventory.api.pages import IdPageQuery, page_of
from inventory.api.views import ApiView, checked_body, checked_query
from inventory.selectors.count_sheets import count_sheet_row, count_sheet_rows
from inventory.selectors.counting import count_accuracy, next_counts
from inventory.selectors.plant import parameters
from inventory.services.counting import close_count_sheet, open_count_sheet, record_count


class CountSheetsView(ApiView):
    """Count sheets."""

    required_scopes = {"GET": ("floor",), "POST": ("floor",)}

    @extend_schema(operation_id="list_count_sheets", parameters=[IdPageQuery], responses=CountSheetPageSerializer)
    def get(self, request: Request) -> Response:
        """List count sheets in the order of their opening, as they stand, without `as_of`.

        Lines that are not settled do not show the books.
        """
        query = checked_query(IdPageQuery, request)
        rows = count_sheet_rows(after_id=int(query["cursor"]), limit=query["limit"] + 1)
        page, following = page_of(rows, key=lambda row: str(row.id), limit=query["limit"], request=request)
        return Response(CountSheetPageSerializer({"next": following, "results": page}).data)

    @extend_schema(operation_id="open_count_sheet", request=CountSheetBody, responses={201: CountSheetSerializer})
    def post(self, request: Request) -> Response:
        """Open a sheet for SKUs or shelf places; a SKU waits on one sheet at a time."""
        body = checked_body(CountSheetBody, request)
        sheet = open_count_sheet(
            sku_codes=body["skus"],
            shelf_places=body["places"],
            tolerance_share=Decimal(body["tolerance_share"]),
            clock=write_clock(request, stated=body.get("occurred_at")),
            opened_by=caller_of(request).user,
        )
        return Response(CountSheetSerializer(count_sheet_row(sheet.code)).data, status=status.HTTP_201_CREATED)


class CountSheetView(ApiView):
    """One count sheet."""

    required_scopes = {"GET": ("floor",)}

    @extend_schema(operation_id="get_count_sheet", responses=CountSheetSerializer)
    def get(self, request: Request, sheet: str) -> Response:
        """Return one sheet as it stands, without `as_of`; lines that are not settled do not show the books."""
        checked_query(NoQuery, request)
        return Response(CountSheetSerializer(count_sheet_row(sheet)).data)


class SheetCountsView(ApiView):
    """Counts on one sheet."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="count_on_sheet", request=SheetCountBody, responses={201: CountedSerializer})
    def post(self, request: Request, sheet: str) -> Response:
        """Report what was found; it is believed within the tolerance, or when two counts find the same difference."""
        body = checked_body(SheetCountBody, request)
        counted = record_count(
            sheet_code=sheet,
            sku_code=body["sku"],
            counted=body["counted"],
            note=body["note"],
            clock=write_clock(request, stated=body.get("occurred_at")),
            counted_by=caller_of(request).user,
        )
        return Response(CountedSerializer(counted).data, status=status.HTTP_201_CREATED)


class CountSheetCloseView(ApiView):
    """The end of a count sheet."""

    required_scopes = {"POST": ("floor",)}

    @extend_schema(operation_id="close_count_sheet", request=CloseSheetBody, responses=CountSheetSerializer)
    def post(self, request: Request, sheet: str) -> Response:
        """Drop what is not settled of a sheet, so that it can be counted on another one."""
        body = checked_body(CloseSheetBody, request)
        close_count_sheet(sheet_code=sheet, clock=write_clock(request, stated=body.get("occurred_at")))
        return Response(CountSheetSerializer(count_sheet_row(sheet)).data)


class CountAccuracyView(ApiView):
    """Accuracy of the records."""

    required_scopes = {"GET": ("floor", "plan", "service:read")}

    @extend_schema(operation_id="get_count_accuracy", parameters=[AccuracyQuery], responses=CountAccuracySerializer)
    def get(self, request: Request) -> Response:
        """Return how right the records were that were counted, by shelf place and by class, with denominators."""
        query = checked_query(AccuracyQuery, request)
        check_days(first=query["first"], last=query["last"])
        as_of = read_instant(request, as_of=query.get("as_of"))
        zone = ZoneInfo(parameters().time_zone)
        first, end = (
            datetime.combine(day, time(), tzinfo=zone) for day in (query["first"], query["last"] + timedelta(days=1))
        )
        accuracy = count_accuracy(first=first, last=end, as_of=as_of)
        shares = {"as_of": read_now(as_of), "by_place": accuracy.by_place, "by_class": accuracy.by_class}
        return Response(CountAccuracySerializer(shares).data)


class NextCountsView(ApiView):
    """What to count next."""

    required_scopes = {"GET": ("floor", "plan")}

    @extend_schema(operation_id="list_next_counts", parameters=[NextCountQuery], responses=NextCountsSerializer)
    def get(self, request: Request) -> Response:
        """List the SKUs whose records are most worth counting, with the reason of each."""
        query = checked_query(NextCountQuery, request)
        as_of = read_now(read_instant(request, as_of=query.get("as_of")))
        rows = next_counts(as_of=as_of, limit=query["limit"])
        return Response(NextCountsSerializer({"as_of": as_of, "results": rows}).data)
