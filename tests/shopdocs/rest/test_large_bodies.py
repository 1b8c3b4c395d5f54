"""A body that is refused unread: the client gets the answer, not a broken pipe. Over real sockets."""

from __future__ import annotations

import io
import json
import socket
import threading
from collections.abc import Iterator
from typing import Any
from wsgiref.simple_server import make_server
from wsgiref.util import setup_testing_defaults

import pytest
from django.core.handlers.wsgi import WSGIHandler

from shopdocs.demo.serving import _Handler, _Server
from shopdocs.documents.models import StoredFile
from shopdocs.rest import middleware

pytestmark = pytest.mark.django_db(transaction=True)
LARGE = 12_000_000


@pytest.fixture
def port(settings: Any) -> Iterator[int]:
    """The demo's own server with the WSGI application in it, on a free port; a body may hold 5 million bytes."""
    settings.MAX_BODY_BYTES = 5_000_000
    server = make_server("127.0.0.1", 0, WSGIHandler(), server_class=_Server, handler_class=_Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server.server_port
    server.shutdown()
    server.server_close()
    thread.join(10)


def posted(port: int, path: str, size: int, *headers: str) -> tuple[int, dict[str, Any]]:
    """Sends all of a body, as a plain client does, and only then reads the answer to its end."""
    lines = [f"POST {path} HTTP/1.1", f"Host: 127.0.0.1:{port}", f"Content-Length: {size}", *headers, "", ""]
    with socket.create_connection(("127.0.0.1", port), timeout=60) as client:
        client.sendall("\r\n".join(lines).encode())
        piece = b" " * 100_000
        for _ in range(size // len(piece)):
            client.sendall(piece)
        got = b""
        while chunk := client.recv(65536):
            got += chunk
    head, _, body = got.partition(b"\r\n\r\n")
    return int(head.split()[1]), json.loads(body)


JSON = "Content-Type: application/json"


@pytest.mark.parametrize("round_", range(3))
def test_a_client_that_sends_far_too_much_reads_the_refusal(port: int, round_: int) -> None:
    status, body = posted(port, "/api/v1/check-in/", LARGE, JSON)
    assert status == 413 and body["errors"][0]["field"] == "body" and "12,000,000" in body["errors"][0]["problem"]


@pytest.mark.parametrize(
    ("path", "status"), [("/api/v1/check-in/", 401), ("/api/v1/nowhere/", 404), ("/api/v1/sign-in/", 415)]
)
def test_a_large_body_that_nobody_wants_to_read_gets_its_answer_too(port: int, path: str, status: int) -> None:
    kind = JSON if status != 415 else "Content-Type: text/plain"
    code, body = posted(port, path, 4_900_000, kind)
    assert code == status and all(body["errors"][0].values())
    assert not StoredFile.objects.exists()


class Endless(io.RawIOBase):
    """A body without an end; counts what is read of it."""

    taken = 0

    def read(self, size: int = -1) -> bytes:
        assert 0 < size <= middleware.PIECE
        self.taken += size
        return b" " * size


def call(length: int) -> tuple[str, Endless]:
    source, said = Endless(), []
    environ: dict[str, Any] = {
        "REQUEST_METHOD": "POST", "PATH_INFO": "/api/v1/check-in/", "CONTENT_LENGTH": str(length),
        "CONTENT_TYPE": "application/json", "HTTP_HOST": "localhost", "wsgi.input": source,
    }  # fmt: skip
    setup_testing_defaults(environ)
    list(WSGIHandler()(environ, lambda status, headers, *_: said.append(status)))
    return said[0], source


def test_no_more_than_a_bound_is_read_off(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.MAX_BODY_BYTES = 1_000_000
    assert call(2_000_000)[1].taken == 2_000_000
    status, source = call(10**12)
    assert status.startswith("413") and source.taken == 4_000_000
    monkeypatch.setattr(middleware, "PATIENCE", 0.0)
    assert call(10**12)[1].taken == 0
