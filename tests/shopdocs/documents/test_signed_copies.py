"""The door of signed copies: a file of its own beside the paper, made once, and only where there is a certificate."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rest_framework.test import APIClient

from shopdocs.documents.models import Document
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw, request_document
from shopdocs.shops.models import Event, Shop, Staff
from tests import papers_samples as samples
from tests.certificates import PASSWORD, certificate, verdict

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]


@pytest.fixture
def on(settings: Any, tmp_path: Path) -> None:
    """An installation with a certificate."""
    file = tmp_path / "shop.p12"
    file.write_bytes(certificate().file)
    settings.SIGNING_FILE, settings.SIGNING_PASSWORD = str(file), PASSWORD


def asked(shop: Shop) -> Document:
    sheet = to_json(samples.invoice())
    return request_document(
        shop=shop, kind="invoice", subject="invoice:1", number="I-3017", title="Invoice I-3017", sheet=sheet
    )


@pytest.fixture
def paper(shop: Shop) -> Document:
    document = asked(shop)
    draw(document.pk)
    return Document.objects.for_shop(shop).select_related("pdf").get(pk=document.pk)


def at(document: Document, door: str) -> str:
    return f"/api/v1/documents/{document.pk}/{door}"


def test_a_signed_copy_lies_beside_the_paper(on: None, paper: Document, writer: Staff, api: Api) -> None:
    client = api(writer)
    before = client.get(at(paper, "pdf/"))
    assert client.get(at(paper, "")).json()["signed_sha256"] is None
    missing = client.get(at(paper, "signed/"))
    assert missing.status_code == 404 and "no signed copy" in missing.json()["errors"][0]["problem"]

    told = client.post(at(paper, "sign/"), {}, format="json").json()
    copy = client.get(at(paper, "signed/"))
    assert copy.headers["Content-Disposition"] == 'attachment; filename="invoice-I-3017-signed.pdf"'
    assert hashlib.sha256(copy.content).hexdigest() == told["signed_sha256"] != told["sha256"]
    assert verdict(copy.content, certificate().der) == (True, True, "ENTIRE_FILE")

    after = client.get(at(paper, "pdf/"))
    assert after.content == before.content and after.headers["ETag"] == f'"{told["sha256"]}"'
    assert hashlib.sha256(after.content).hexdigest() == told["sha256"]
    event = Event.objects.get(verb="signed copy made")
    assert (event.subject, event.by) == ("invoice:1", writer.user) and told["signed_sha256"] in event.words


def test_asked_again_the_first_copy_stands(on: None, paper: Document, writer: Staff, office: Staff, api: Api) -> None:
    first = api(writer).post(at(paper, "sign/"), {}, format="json").json()
    again = api(office).post(at(paper, "sign/"), {}, format="json")
    assert (again.status_code, again.json()["signed_sha256"]) == (200, first["signed_sha256"])
    assert Event.objects.filter(verb="signed copy made").count() == 1


def test_off_as_it_comes_and_only_for_drawn_papers(
    paper: Document, shop: Shop, writer: Staff, api: Api, settings: Any
) -> None:
    def refused(document: Document) -> str:
        answer = api(writer).post(at(document, "sign/"), {}, format="json")
        assert answer.status_code == 409
        problem: str = answer.json()["errors"][0]["problem"]
        return problem

    assert settings.SIGNING_FILE == "" and "no certificate to sign with" in refused(paper)
    settings.SIGNING_FILE = "/nowhere/shop.p12"
    assert "not drawn yet" in refused(asked(shop))


def test_an_expired_certificate_signs_nothing(
    on: None, paper: Document, writer: Staff, api: Api, settings: Any
) -> None:
    Path(settings.SIGNING_FILE).write_bytes(certificate(-40, -10).file)
    answer = api(writer).post(at(paper, "sign/"), {}, format="json")
    assert answer.status_code == 409 and "certificate holds from" in answer.json()["errors"][0]["problem"]
    assert api(writer).get(at(paper, "")).json()["signed_sha256"] is None


def test_another_shop_and_a_technician_do_not_sign(
    on: None, paper: Document, technician: Staff, other_shop: Shop, api: Api
) -> None:
    assert api(technician).post(at(paper, "sign/"), {}, format="json").status_code == 403
    stranger = Staff.objects.filter(shop=other_shop).select_related("user", "shop")[0]
    assert api(stranger).post(at(paper, "sign/"), {}, format="json").status_code == 404
    assert api(stranger).get(at(paper, "signed/")).status_code == 404


def test_nothing_of_the_package_is_loaded_before_a_copy_is_asked_for() -> None:
    code = "import sys; import shopdocs.documents.press.signing; print([m for m in sys.modules if 'hanko' in m])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
