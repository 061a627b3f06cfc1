"""Webhooks by the Standard Webhooks specification: signature, back-off, and where one may be sent. Pure."""

from __future__ import annotations

import base64
import hashlib
import hmac
from collections.abc import Sequence
from datetime import timedelta
from enum import StrEnum
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address
from urllib.parse import urlsplit

from inventory.rules.texts import Text, text

Network = IPv4Network | IPv6Network

MAX_URL_LENGTH = 500
# Waits before each attempt, as the specification gives them for an example; after the last one nobody tries by himself.
WAITS = (
    timedelta(0),
    timedelta(seconds=5),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=5),
    timedelta(hours=10),
    timedelta(hours=14),
    timedelta(hours=20),
    timedelta(hours=24),
)
SPREAD_SHARE = 0.1
GONE = 410
# IPv6 ranges that carry an IPv4 address inside: NAT64 (RFC 6052), 6to4 (RFC 3056), Teredo (RFC 4380).
_CARRIERS = (
    IPv6Network("64:ff9b::/96"),
    IPv6Network("64:ff9b:1::/48"),
    IPv6Network("2002::/16"),
    IPv6Network("2001::/32"),
)


class Event(StrEnum):
    """What an integration can be told of."""

    ORDER_SHIPPED = "order.shipped"
    ORDER_PROMISE_MOVED = "order.promise_moved"
    LOT_HELD = "lot.held"
    LOT_RELEASED = "lot.released"


def encoded_secret(secret: bytes) -> str:
    """Return a secret as it is handed to the receiver.

    Examples
    --------
    >>> encoded_secret(bytes(24))
    'whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA'
    """
    return "whsec_" + base64.b64encode(secret).decode()


def signature(secret: bytes, *, message_id: str, timestamp: int, body: str) -> str:
    """Return the signature of one attempt: HMAC-SHA-256 over "id.timestamp.body", in base64, with its version.

    Parameters
    ----------
    secret : bytes
        24 to 64 bytes.
    timestamp : int
        Unix seconds of the attempt.

    References
    ----------
    Standard Webhooks specification, "Signature scheme", symmetric.
    """
    content = f"{message_id}.{timestamp}.{body}".encode()
    return "v1," + base64.b64encode(hmac.digest(secret, content, hashlib.sha256)).decode()


def wait_after(attempts: int, *, spread: float) -> timedelta | None:
    """Return how long to wait after so many attempts that failed, or None when there will be no other.

    Parameters
    ----------
    attempts : int
        1 or more.
    spread : float
        0 to 1, drawn at random: receivers that failed together are not tried together. It adds up to a tenth.

    Examples
    --------
    >>> wait_after(1, spread=0.0), wait_after(10, spread=0.0)
    (datetime.timedelta(seconds=5), None)
    """
    return WAITS[attempts] * (1 + SPREAD_SHARE * spread) if attempts < len(WAITS) else None


def url_fault(url: str) -> Text | None:
    """Say why no webhook may go to a URL, whatever its host resolves to, or None where it may.

    Examples
    --------
    >>> url_fault("https://hooks.example.org/stock")
    >>> url_fault("ftp://hooks.example.org/")
    'The URL must begin with https:// (or http:// within an allowed network).'
    """
    if len(url) > MAX_URL_LENGTH or not url.isascii() or not url.isprintable() or " " in url:
        return text("The URL must be printable ASCII without blanks, at most {most} characters.", most=MAX_URL_LENGTH)
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError as error:
        return text("The URL cannot be read: {error}.", error=error)
    if parts.scheme not in ("https", "http"):
        return text("The URL must begin with https:// (or http:// within an allowed network).")
    if not parts.hostname or port == 0:
        return text("The URL names no host, or port 0.")
    if parts.username is not None or parts.password is not None or parts.fragment:
        return text("The URL must not carry a user, a password or a fragment.")
    return None


def address_fault(address: str, *, allowed: Sequence[Network], is_encrypted: bool) -> Text | None:
    """Say why no webhook may go to an address, or None where it may.

    Within an allowed network everything goes. Elsewhere only public addresses do, and only over TLS: a receiver's
    name must not lead back into the plant's own network (request forgery).

    Examples
    --------
    >>> address_fault("93.184.215.14", allowed=(), is_encrypted=True)
    >>> address_fault("127.0.0.1", allowed=(), is_encrypted=True)
    'Address 127.0.0.1 is not public; allow its network in the settings to send there.'
    """
    ip = _plain_address(address)
    if any(ip in network for network in allowed):
        return None
    carries = isinstance(ip, IPv6Address) and any(ip in network for network in _CARRIERS)
    if carries or not ip.is_global or ip.is_multicast:
        return text(
            "Address {address} is not public; allow its network in the settings to send there.", address=address
        )
    return None if is_encrypted else text("Address {address} is public; send there over https only.", address=address)


def _plain_address(address: str) -> IPv4Address | IPv6Address:
    """The address without its zone; an IPv4 address that is written as an IPv6 one counts as what it is."""
    ip = ip_address(address.split("%", maxsplit=1)[0])
    return ip.ipv4_mapped or ip if isinstance(ip, IPv6Address) else ip
