"""A real receiver of webhooks: an HTTP server of its own that checks each signature with the reference library."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Event, Thread
from typing import Any

from standardwebhooks import Webhook, WebhookVerificationError

# A key made for these tests, for hook.example.org; it opens nothing.
PEM = Path(__file__).with_name("receiver.pem")


@dataclass
class Receiver:
    """What came in, and what is answered."""

    secret: str = ""
    status: int = 204
    port: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    bodies: list[Any] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    hosts: list[str] = field(default_factory=list)
    refused: int = 0

    def take(self, headers: dict[str, str], body: bytes) -> int:
        self.hosts.append(headers["host"])
        try:
            said = Webhook(self.secret).verify(body, headers)
        except WebhookVerificationError:
            self.refused += 1
            return 401
        self.bodies.append(said)
        self.ids.append(headers["webhook-id"])
        return self.status


@contextmanager
def receiving(*, tls: bool = False) -> Iterator[Receiver]:
    """A receiver on a free port of this machine."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            status = receiver.take({name.lower(): value for name, value in self.headers.items()}, body)
            self.send_response(status)
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.end_headers()

        def log_message(self, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    if tls:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(PEM)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    receiver.port = server.server_address[1]
    thread = Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@contextmanager
def dripping(*, every_s: float) -> Iterator[int]:
    """A server that sends its answer a byte at a time and never ends it; gives its port."""
    stop = Event()
    listener = socket.create_server(("127.0.0.1", 0))

    def drip() -> None:
        sock, _ = listener.accept()
        with sock, suppress(OSError):
            sock.sendall(b"HTTP/1.1 ")
            while not stop.wait(every_s):
                sock.sendall(b"2")

    thread = Thread(target=drip)
    thread.start()
    try:
        yield listener.getsockname()[1]
    finally:
        stop.set()
        thread.join()
        listener.close()
