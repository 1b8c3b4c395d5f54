"""The service on 127.0.0.1 inside this process: the same WSGI application that gunicorn would run."""

from __future__ import annotations

import errno
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from socketserver import ThreadingMixIn
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer


class PortRefused(Exception):
    """The port is taken, or this user may not have it."""


class _Server(ThreadingMixIn, WSGIServer):
    daemon_threads = True
    request_queue_size = 64

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A reader that hung up is no news."""


class _Handler(WSGIRequestHandler):
    def address_string(self) -> str:
        return str(self.client_address[0])  # no look-up of names

    def log_message(self, format: str, *args: Any) -> None:  # the base class names it so
        """The demo's terminal shows the story, not each request."""


@contextmanager
def served(port: int) -> Iterator[str]:
    """Serves until the block ends and gives the address. Port 0 takes a free one; raises PortRefused."""
    from shopdocs.wsgi import application

    try:
        server = _Server(("127.0.0.1", port), _Handler)
    except OverflowError as error:
        raise PortRefused(f"{port} is no port. Choose one from 1024 to 65535 with --port.") from error
    except OSError as error:
        if error.errno not in (errno.EADDRINUSE, errno.EACCES):
            raise
        why = "is taken" if error.errno == errno.EADDRINUSE else "is not for this user to open"
        raise PortRefused(f"Port {port} {why} ({error}). Choose another with --port.") from error
    server.set_app(application)
    thread = threading.Thread(target=server.serve_forever, name="demo-server", daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join(10)
