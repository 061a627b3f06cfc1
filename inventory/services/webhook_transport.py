"""One POST to a receiver. The address that was checked is the address that is called: a name cannot move between."""

from __future__ import annotations

import http.client
import socket
import ssl
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from threading import Timer
from urllib.parse import SplitResult, urlsplit

from inventory.rules.webhooks import Network, address_fault

TIMEOUT_S = 15.0
# A receiver that sends a byte now and then never runs into a timeout.
DEADLINE_S = 30.0
MAX_ERROR_LENGTH = 200


@dataclass(frozen=True)
class Answer:
    """What came of one attempt: the status, or why there is none."""

    status: int | None
    error: str = ""

    @property
    def is_success(self) -> bool:
        """A redirect is none: it is not followed, as it could lead anywhere."""
        return self.status is not None and 200 <= self.status < 300


def post(
    url: str, *, body: str, headers: Mapping[str, str], allowed: Sequence[Network], tls: ssl.SSLContext | None = None
) -> Answer:
    """Send a body to a URL and return the status; of the answer only the head is read.

    Every address that the host resolves to must be allowed, and the first of them is called. `tls` is the context
    to trust, by default the system's.
    """
    parts = urlsplit(url)
    is_encrypted = parts.scheme == "https"
    try:
        addresses = _addresses(parts)
        for address in addresses:
            if fault := address_fault(address, allowed=allowed, is_encrypted=is_encrypted):
                return Answer(status=None, error=str(fault))
        with _cut_after(DEADLINE_S, _connection(parts, addresses[0], tls=tls)) as connection:
            connection.request("POST", _target(parts), body=body.encode(), headers=dict(headers))
            return Answer(status=connection.getresponse().status)
    except (OSError, http.client.HTTPException, UnicodeError) as error:
        return Answer(status=None, error=f"{type(error).__name__}: {error}"[:MAX_ERROR_LENGTH])


@contextmanager
def _cut_after(seconds: float, connection: http.client.HTTPConnection) -> Iterator[http.client.HTTPConnection]:
    """Close the connection at the end, and cut it off before if it takes longer than this."""
    timer = Timer(seconds, _cut, [connection.sock])
    timer.daemon = True
    timer.start()
    try:
        yield connection
    finally:
        timer.cancel()
        connection.close()


def _cut(sock: socket.socket) -> None:
    # It may have been closed just now.
    with suppress(OSError):
        sock.shutdown(socket.SHUT_RDWR)


def _addresses(parts: SplitResult) -> list[str]:
    found = socket.getaddrinfo(parts.hostname, _port(parts), type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(row[4][0]) for row in found))


def _port(parts: SplitResult) -> int:
    return parts.port or (443 if parts.scheme == "https" else 80)


def _target(parts: SplitResult) -> str:
    return (parts.path or "/") + (f"?{parts.query}" if parts.query else "")


def _connection(parts: SplitResult, address: str, *, tls: ssl.SSLContext | None) -> http.client.HTTPConnection:
    """A connection to the address, which names the host in its headers and in its certificate check."""
    host, port = parts.hostname or "", _port(parts)
    sock = socket.create_connection((address, port), timeout=TIMEOUT_S)
    if parts.scheme == "https":
        sock = (tls or ssl.create_default_context()).wrap_socket(sock, server_hostname=host)
    default = port == (443 if parts.scheme == "https" else 80)
    connection = http.client.HTTPConnection(host, None if default else port, timeout=TIMEOUT_S)
    connection.sock = sock
    return connection
