"""Clients that take as little of the machine as they can: requests are written beforehand, one socket each.

Server and clients share the cores. A client library would take a quarter of what an order costs the server, and so
make every server look alike.
"""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass


@dataclass(frozen=True)
class Load:
    """What the clients saw: seconds of each request, seconds of the whole, bytes of the last answer's body."""

    seconds: Sequence[float]
    elapsed_s: float
    body_bytes: int


def request(method: str, path: str, *, token: str, body: object = None) -> bytes:
    """A whole HTTP request as bytes."""
    content = b"" if body is None else json.dumps(body).encode()
    head = (
        f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nAuthorization: Bearer {token}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {len(content)}\r\n\r\n"
    )
    return head.encode() + content


def put_load(port: int, requests: Sequence[bytes], *, clients: int) -> Load:
    """Send the requests from so many clients, each one at a time.

    Raises
    ------
    RuntimeError
        At the first answer that is neither 200 nor 201.
    """
    started = time.perf_counter()
    with ThreadPoolExecutor(clients) as pool:
        answers = list(pool.map(lambda one: _send(port, one), requests))
    return Load([seconds for seconds, _ in answers], time.perf_counter() - started, answers[-1][1])


def _send(port: int, one: bytes) -> tuple[float, int]:
    started = time.perf_counter()
    with socket.create_connection(("127.0.0.1", port), timeout=120) as connection:
        connection.sendall(one)
        parts = []
        while part := connection.recv(1 << 16):
            parts.append(part)
    head, _, body = b"".join(parts).partition(b"\r\n\r\n")
    if head.split(b" ", 2)[1:2] not in ([b"200"], [b"201"]):
        raise RuntimeError(f"{one[:60]!r}: {head[:200]!r} {body[:500]!r}")
    return time.perf_counter() - started, len(body)
