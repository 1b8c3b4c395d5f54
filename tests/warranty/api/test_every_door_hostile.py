"""Every door of the published description, with values that no front end of ours would send.

Whatever comes: never a fault of ours; each refusal names field, problem and remedy; a refusal leaves no row and no file. The
doors and their fields are read from the description, so a new door is tried without being named here. `EVERY_VALUE=1` tries
all values at all places; otherwise each place gets a few of them, others at each place.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

import pytest
import yaml
from django.apps import apps
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import resolve
from rest_framework.test import APIClient

from orders.models import Unit
from orders.services.checkin import Visit, check_in
from orders.services.estimates import issue_estimate
from shopdocs.shops.models import Staff
from tests.orders.back_kit import invoiced, season_service, set_rates
from tests.orders.conftest import checked_in
from tests.warranty.scene import Scene

pytestmark = pytest.mark.django_db
DESCRIPTION = yaml.safe_load((Path(__file__).parents[3] / "shopdocs/rest/openapi.yaml").read_text("utf-8"))
SCHEMAS = DESCRIPTION["components"]["schemas"]
NUMBER = "@number@"  # what stands in quotes behind it is sent without them: JSON that Python would not write
VALUES: list[Any] = [
    None, True, 0, -1, 1.5, 2**31, 2**62, 2**70, f"{NUMBER}1e400", f"{NUMBER}-1e400", f"{NUMBER}NaN", f"{NUMBER}1E-400", "", " ", "x", "\u202e",
    "\x00", "a\x00b", "\ud800", "9" * 5000, "NaN", "1e400", "-0", "0E-12", "1e-7", "2026-02-30", "9999-12-31", "0001-01-01",
    "2026-01-01T25:00:00Z", "9999-12-31T23:59:59-23:59", "0b0b0b0b-0000-4000-8000-000000000000", [], {}, [None], [[]], {"a": 1},
    ["\ud800"], ["x"] * 5000, "<img src=x>", "٣", "²",
]  # fmt: skip
QUERIES = [
    "\x00",
    "x" * 3000,
    "-1",
    "NaN",
    "1e400",
    "2026-02-30",
    "9" * 400,
    "²",
    "",
    "0b0b0b0b-0000-4000-8000-000000000000",
]
WHOLE = [
    b"", b"{", b"[]", b"null", b'"x"', b"1e400", b'{"\\u0000": 1}', b'{"\\ud800": 1}', b'{"version": 1, "version": 2}', b"\xff\xfe",
    b'{"a":' * 60 + b"1" + b"}" * 60, b'{"zzz": 1}', b'{"version": ' + b"9" * 5000 + b"}",
]  # fmt: skip
FEW = 2
LONG = "x" * 2_000_000


def operations() -> list[tuple[str, str]]:
    return [(method, path) for path, every in DESCRIPTION["paths"].items() for method in every]


def schema_of(node: dict[str, Any]) -> dict[str, Any]:
    """The schema with its references followed; of several the first that is not null."""
    while "$ref" in node or "allOf" in node or "oneOf" in node or "anyOf" in node:
        if "$ref" in node:
            node = SCHEMAS[node["$ref"].rpartition("/")[2]]
        else:
            choices = node.get("allOf") or node.get("oneOf") or node["anyOf"]
            node = next((one for one in choices if one.get("type") != "null"), {})
    return node


class Maker:
    """Invents bodies of the right form: what is asked for, with ids of the shop's own records."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.known: dict[str, Any] = {
            "order": scene.order, "unit": scene.unit, "job": scene.job, "finding": scene.module, "customer": scene.customer,
            "owner": scene.customer, "maker": scene.maker, "model": scene.model, "distributor": scene.distributor,
            "part": scene.part, "assembly": scene.engine,
        }  # fmt: skip

    def body(self, node: dict[str, Any], name: str = "", depth: int = 0) -> Any:
        node = schema_of(node)
        kind = node.get("type")
        kind = next((one for one in kind if one != "null"), None) if isinstance(kind, list) else kind
        if "enum" in node:
            return node["enum"][0]
        if node.get("format") == "uuid":
            row = self.known.get(name.removesuffix("s"))
            return str(row.pk) if row else str(UUID(int=5))
        if kind == "object":
            return {} if depth > 4 else {
                key: self.body(inner, key, depth + 1) for key, inner in node.get("properties", {}).items()
                if not schema_of(inner).get("readOnly")
            }  # fmt: skip
        if kind == "array":
            return [self.body(node.get("items", {}), name, depth + 1)]
        if kind == "boolean":
            return True
        if kind in ("integer", "number"):
            return max(1, int(node.get("minimum", 1)))
        if node.get("format") == "date":
            return str(self.scene.today)
        if node.get("format") == "date-time":
            return dt.datetime.now(dt.UTC).isoformat()
        if node.get("format") == "decimal":
            return "1"
        given = {
            "email": "a@b.example",
            "component": "saw_chain",
            "condition": "worn",
            "family": "saw",
            "language": "es",
        }
        return given.get(name, "x")

    def address(self, path: str) -> tuple[str, Any]:
        """The path with ids of records, and the record that the last id names."""
        nowhere = str(UUID(int=9))
        ids = dict.fromkeys(("id", "order_id", "job_id", "unit_id", "finding_id"), nowhere)
        given: dict[str, str] = {**ids, "token": "no-such-token", "sha256": "a" * 64}
        view = resolve(path.format(**given)).func
        model = getattr(getattr(view, "cls", None), "model", None)
        row: Any = None
        for name in ("order_id", "job_id", "unit_id", "finding_id"):
            given[name] = str(self.known[name.removesuffix("_id")].pk)
        if "{id}" in path and model is not None:
            own = next((one for one in self.known.values() if type(one) is model), None)
            row = own or model.objects.for_shop(self.scene.shop).first()
        given["id"] = str(row.pk) if row else nowhere
        return path.format(**given), row


def places(body: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    inner = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    for key, value in inner:
        yield from places(value, (*way, key))
    if way:
        yield way


def put(body: Any, way: tuple[Any, ...], value: Any) -> Any:
    if not way:
        return value
    copied = dict(body) if isinstance(body, dict) else list(body)
    copied[way[0]] = put(copied[way[0]], way[1:], value)
    return copied


def written(body: Any) -> bytes:
    text = json.dumps(body)
    while f'"{NUMBER}' in text:
        begin = text.index(f'"{NUMBER}')
        end = text.index('"', begin + 1)
        text = text[:begin] + text[begin + 1 + len(NUMBER) : end] + text[end + 1 :]
    return text.encode()


def some(values: list[Any], seed: str, few: int = FEW) -> list[Any]:
    if os.environ.get("EVERY_VALUE") == "1":
        return values
    start = zlib.crc32(seed.encode())
    return [values[(start + step * 7) % len(values)] for step in range(few)]


def rows() -> dict[str, int]:
    return {model._meta.label: model._base_manager.count() for model in apps.get_models()}


def kept_files() -> list[str]:
    folder = Path(settings.STORAGES["default"]["OPTIONS"]["location"])
    return sorted(str(path) for path in folder.rglob("*") if path.is_file()) if folder.exists() else []


class Tried:
    """Sends requests to one door; what is taken is taken back, what is refused must have left nothing."""

    def __init__(self, client: APIClient, method: str, address: str) -> None:
        self.client, self.method, self.address = client, method, address
        self.wrong: list[str] = []
        self.taken = 0

    def send(self, said: str, body: Any = b"", content_type: str = "application/json", query: str = "") -> None:
        with transaction.atomic():
            if content_type == "multipart":
                answer = self.client.post(self.address, body, format="multipart")
            else:
                answer = self.client.generic(self.method, self.address + query, body, content_type)
            if answer.status_code < 400 or answer.status_code >= 500:
                transaction.set_rollback(True)
            self.taken += answer.status_code < 400
            problem = _untold(answer) if answer.status_code >= 400 else ""
            if problem:
                self.wrong.append(f"{said}: {answer.status_code} {problem}")


def _untold(answer: Any) -> str:
    """What is wrong with a refusal; '' when it names field, problem and remedy, in words of a bearable length."""
    if answer.status_code >= 500:
        return "is a fault of ours"
    if answer["Content-Type"] != "application/problem+json":
        return f"is told as {answer['Content-Type']}"
    listed = answer.json()["errors"]
    if not listed or not all(one["field"] and one["problem"] and one["remedy"] for one in listed):
        return f"names not all of it: {listed}"
    return f"is {len(answer.content)} bytes long" if len(answer.content) > 200_000 else ""


def _queries(operation: dict[str, Any], tried: Tried) -> None:
    names = [one["name"] for one in operation.get("parameters", []) if one["in"] == "query"]
    for name in names:
        for value in some(QUERIES, f"{tried.address}{name}"):
            tried.send(f"?{name}={value[:30]!r}", query=f"?{urlencode({name: value})}")


def _addresses(path: str, tried: Tried) -> None:
    """Where a word stands in the address: words that are none."""
    if "{token}" not in path and "{sha256}" not in path:
        return
    for word in ("%00", "a%00b", "%ED%A0%80", "%FF", "x" * 3000, "%C2%B2", " "):
        odd = Tried(tried.client, tried.method, path.format(token=word, sha256=word))
        odd.send(f"address {word[:20]}", b"{}")
        tried.wrong += odd.wrong


def _json(operation: dict[str, Any], tried: Tried, body: Any) -> None:
    for whole in some(WHOLE, tried.address, 4):
        tried.send(f"body {whole[:40]!r}", whole)
    tried.send("as it should be", written(body))
    text_seen = False
    for way in places(body):
        seed = f"{tried.address}{way}"
        for value in some(VALUES, seed):
            tried.send(f"{'.'.join(map(str, way))} = {str(value)[:40]!a}", written(put(body, way, value)))
        at: Any = body
        for step in way:
            at = at[step]
        if at == "x" and not text_seen:
            text_seen = True
            tried.send(f"{way} = 2 MB", written(put(body, way, LONG)))


def _form(operation: dict[str, Any], tried: Tried, body: dict[str, Any]) -> None:
    plain = {
        name: value if isinstance(value, str) else json.dumps(value) for name, value in body.items() if name != "file"
    }
    files = [b"", b"PK\x03\x04zip", b"%PDF-1.7", b"\xff\xd8\xff", b"GIF89a", b"\x00" * 5000]
    for data in files:
        tried.send(f"file {data[:8]!r}", {**plain, "file": SimpleUploadedFile("a.jpg", data)}, "multipart")
    tried.send("text for a file", {**plain, "file": "x"}, "multipart")
    tried.send(
        "a name of 5000", {**plain, "file": SimpleUploadedFile("n" * 5000 + ".jpg", b"\xff\xd8\xff")}, "multipart"
    )
    for name in plain:
        for value in ("\x00", "x" * 20_000, "", "2026-02-30", "²"):
            form = {**plain, name: value, "file": SimpleUploadedFile("a.jpg", b"\xff\xd8\xff")}
            tried.send(f"{name} = {value[:20]!r}", form, "multipart")
    tried.send("no boundary", b"x", "multipart/form-data")
    tried.send(
        "cut off",
        b'--b\r\nContent-Disposition: form-data; name="file"; filename="a"\r\n\r\nx',
        "multipart/form-data; boundary=b",
    )


@pytest.fixture
def maker(scene: Scene, owner: Staff) -> Maker:
    """The scene, with a second order that was estimated and a third that was billed."""
    shop = scene.shop
    set_rates(shop)
    second = checked_in(shop, owner, serial="KX 2")
    season_service(shop, owner, second)
    issue_estimate(shop=shop, by=owner, order_id=second.pk)
    unit = {"model": Unit.objects.get(serial="KX 2").model_id, "serial": "KX 3"}
    third = check_in(shop=shop, by=owner, visit=Visit(new_customer={"name": "Bo"}, new_unit=unit, complaint="Dull"))
    season_service(shop, owner, third)
    invoiced(shop, owner, third)
    return Maker(scene)


PARTS = 8


@pytest.mark.parametrize("part", range(PARTS))
def test_no_value_at_any_door_is_a_fault_or_leaves_anything(maker: Maker, api: Any, owner: Staff, part: int) -> None:
    client: APIClient = api(owner)
    client.raise_request_exception = False
    wrong: list[str] = []
    taken = 0
    for place, (method, path) in enumerate(operations()):
        if place % PARTS != part or path.endswith(("/sign-out/", "/sign-in/")):
            continue
        operation = DESCRIPTION["paths"][path][method]
        address, row = maker.address(path)
        before, files = rows(), kept_files()
        tried = Tried(client, method.upper(), address)
        content = operation.get("requestBody", {}).get("content", {})
        _queries(operation, tried)
        if "application/json" in content:
            body = maker.body(content["application/json"]["schema"])
            if isinstance(body, dict) and "version" in body and row is not None:
                body["version"] = row.version
            _json(operation, tried, body)
        elif content:
            _form(operation, tried, maker.body(content["multipart/form-data"]["schema"]))
        elif method != "get":
            tried.send("a body where none is asked for", b"\xff")
        _addresses(path, tried)
        taken += tried.taken
        after = rows()
        if after != before:
            tried.wrong.append(
                f"rows left: { {name: (before[name], n) for name, n in after.items() if n != before[name]} }"
            )
        if not tried.wrong and method != "get" and kept_files() != files:
            tried.wrong.append(f"files left: {sorted(set(kept_files()) - set(files))}")
        wrong += [f"{method.upper()} {path}: {one}" for one in tried.wrong]
    assert taken > 5, "hardly anything was taken: the doors were not reached"
    assert not wrong, f"{len(wrong)} wrong:\n" + "\n".join(wrong[:60])
