"""The bare order view that the API is measured against, and the addresses and server that carry both.

It does the least that a view with a nested serializer can do honestly: check the shape, look up the SKUs, lock and
lower their shelf balances, insert the order and its lines. No token, no due day, no promise, no repeat under the same
reference, no allocation, no history of changes.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import transaction
from django.urls import include, path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from inventory.models import Balance, Channel, Order, OrderLine, Place, Sku
from stockplan.urls import handler404

__all__ = ["handler404", "urlpatterns"]


class BareLine(serializers.Serializer[Any]):
    sku = serializers.CharField(max_length=32)
    quantity = serializers.IntegerField(min_value=1)


class BareOrder(serializers.Serializer[Any]):
    channel = serializers.CharField(max_length=32)
    reference = serializers.CharField(max_length=64)
    lines = BareLine(many=True, allow_empty=False)


class BareOrderView(APIView):
    authentication_classes: list[Any] = []
    permission_classes: list[Any] = []

    def post(self, request: Request) -> Response:
        body = BareOrder(data=request.data)
        body.is_valid(raise_exception=True)
        order = place_bare(**body.validated_data)
        return Response({**body.data, "id": order.pk, "due_day": order.due_day}, status=201)


@transaction.atomic
def place_bare(*, channel: str, reference: str, lines: list[dict[str, Any]]) -> Order:
    wanted = {line["sku"]: line["quantity"] for line in lines}
    skus = {sku.item.code: sku for sku in Sku.objects.select_related("item").filter(item__code__in=wanted)}
    by_item = {skus[code].pk: quantity for code, quantity in wanted.items()}
    shelf = Balance.objects.filter(place__kind=Place.Kind.SHELF, item_id__in=by_item).order_by("id")
    balances = list(shelf.select_for_update(of=("self",)))
    for balance in balances:
        balance.quantity -= Decimal(by_item[balance.item_id])
    Balance.objects.bulk_update(balances, ["quantity"])
    now = timezone.now()
    order = Order.objects.create(
        channel=Channel.objects.get(code=channel),
        reference=reference,
        received_at=now,
        known_at=now,
        due_day=now.date(),
        body_digest="bare",
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, line_no=number, sku=skus[code], quantity=quantity)
        for number, (code, quantity) in enumerate(wanted.items(), start=1)
    )
    return order


urlpatterns = [
    path("bare/orders/", BareOrderView.as_view()),
    path("", include("stockplan.urls")),
]
