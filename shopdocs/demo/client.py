"""How the demo's people reach the service: over HTTP, with nothing but the standard library."""

from __future__ import annotations

import http.client
import json
import secrets
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode, urlsplit


class Refused(Exception):
    """The service said no; the message holds its own words."""

    def __init__(self, method: str, path: str, status: int, body: Any) -> None:
        super().__init__(f"{method} {path} -> {status}: {json.dumps(body)[:1500]}")
        self.status = status
        self.body = body


@dataclass
class Person:
    """Somebody at the counter, the bench or the desk (or a customer, without a token)."""

    address: str
    token: str = ""
    name: str = ""

    def get(self, path: str, **query: Any) -> Any:
        return self._call("GET", f"{path}?{urlencode(query)}" if query else path)

    def post(self, path: str, body: Any = None, **fields: Any) -> Any:
        return self._call("POST", path, fields if body is None else body)

    def patch(self, path: str, **fields: Any) -> Any:
        return self._call("PATCH", path, fields)

    def download(self, path: str) -> bytes:
        data: bytes = self._call("GET", path, raw=True)
        return data

    def upload(self, path: str, data: bytes, name: str, **fields: str) -> Any:
        """A multipart upload of one file with text fields, as a phone would send it."""
        mark = secrets.token_hex(16)
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
            for key, value in fields.items()
        ]
        head = f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n'
        parts += [
            head.encode(),
            b"Content-Type: application/octet-stream\r\n\r\n",
            data,
            f"\r\n--{mark}--\r\n".encode(),
        ]
        return self._call("POST", path, payload=b"".join(parts), media_type=f"multipart/form-data; boundary={mark}")

    def _call(
        self, method: str, path: str, body: Any = None, *, payload: bytes = b"", media_type: str = "", raw: bool = False
    ) -> Any:
        headers = {"Accept": "*/*" if raw else "application/json"}
        if self.token:
            headers["Authorization"] = f"Token {self.token}"
        if body is not None:
            payload, media_type = json.dumps(body).encode(), "application/json"
        if payload:
            headers["Content-Type"] = media_type
        where = urlsplit(self.address)
        connection = http.client.HTTPConnection(where.hostname or "127.0.0.1", where.port, timeout=60)
        try:
            connection.request(method, path, body=payload or None, headers=headers)
            answer = connection.getresponse()
            data = answer.read()
        finally:
            connection.close()
        if answer.status >= 400:
            raise Refused(method, path, answer.status, _read(data))
        return data if raw else _read(data)


def _read(data: bytes) -> Any:
    if not data:
        return None
    try:
        return json.loads(data)
    except ValueError:
        return data.decode("utf-8", "replace")[:300]


def sign_in(address: str, username: str, password: str) -> Person:
    """A person with the token that signing in gave."""
    person = Person(address)
    answer = person.post("/api/v1/sign-in/", username=username, password=password)
    return Person(address, answer["token"], answer["name"])
