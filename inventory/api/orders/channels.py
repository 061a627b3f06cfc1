"""A token of one channel sees and posts that channel's orders only; the others do not exist for it."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from inventory.api.caller import Caller
from inventory.errors import NotFoundError
from inventory.models import Order, Shipment
from inventory.order_errors import OrderFieldError, UnknownOrderError


def channel_to_post(caller: Caller, stated: str | None) -> str:
    """Return the channel of a new order.

    Raises
    ------
    NotFoundError
        If the caller is limited to another channel.
    OrderFieldError
        If no channel is stated and the caller is not limited to one.
    """
    if caller.channel_code is None:
        if stated is None:
            raise OrderFieldError("Name the channel; this token is not limited to one.", pointer="/channel")
        return stated
    if stated not in (None, caller.channel_code):
        raise NotFoundError("This token knows no channel {stated}.", stated=stated)
    return caller.channel_code


def channel_to_list(caller: Caller, stated: str | None) -> str | None:
    """Return the channel whose orders to list, None for every channel.

    Raises
    ------
    NotFoundError
        If the caller is limited to another channel.
    """
    return stated if caller.channel_code is None else channel_to_post(caller, stated)


def check_sees_order(caller: Caller, order_id: int, *, pointer: str = "") -> None:
    """Refuse an order of another channel just like one that does not exist. One query.

    `pointer` is the field that names the order, where it is not the address.

    Raises
    ------
    UnknownOrderError
        If there is no such order that the caller may see.
    """
    if not _sees(caller, Order.objects.filter(pk=order_id), channel="channel__code"):
        raise UnknownOrderError("There is no order {order}.", order=order_id, pointer=pointer)


def check_sees_shipment(caller: Caller, shipment_id: int) -> None:
    """Refuse a shipment of another channel just like one that does not exist. One query.

    Raises
    ------
    NotFoundError
        If there is no such shipment that the caller may see.
    """
    if not _sees(caller, Shipment.objects.filter(pk=shipment_id), channel="order__channel__code"):
        raise NotFoundError("There is no shipment {shipment}.", shipment=shipment_id)


def _sees(caller: Caller, rows: QuerySet[Any], *, channel: str) -> bool:
    """Whether there is a row that the caller may see; `channel` leads from a row to the code of its channel."""
    return (rows if caller.channel_code is None else rows.filter(**{channel: caller.channel_code})).exists()
