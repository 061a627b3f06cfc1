"""Do we keep the promise?"""

from __future__ import annotations

from datetime import timedelta

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.clock import check_days, read_instant, read_now
from inventory.api.service.serializers import ServiceQuery, ServiceReportSerializer
from inventory.api.views import ApiView, checked_query
from inventory.errors import InvalidInputError
from inventory.selectors.service import service_report

MOST_TIME = timedelta(days=3 * 366)


class ServiceView(ApiView):
    """The service report."""

    required_scopes = {"GET": ("service:read",)}

    @extend_schema(operation_id="get_service", parameters=[ServiceQuery], responses=ServiceReportSerializer)
    def get(self, request: Request) -> Response:
        """Return the shares that shipped complete on their due day, and every miss with its reason."""
        query = checked_query(ServiceQuery, request)
        as_of = read_now(read_instant(request, as_of=query.get("as_of")))
        check_days(first=query["first"], last=query["last"])
        if query["last"] - query["first"] > MOST_TIME:
            raise InvalidInputError(
                "From first to last there may be {most} days.", most=MOST_TIME.days, pointer="?last"
            )
        report = service_report(first=query["first"], last=query["last"], as_of=as_of)
        return Response(ServiceReportSerializer(report).data)
