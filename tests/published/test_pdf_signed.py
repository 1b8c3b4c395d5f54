"""Signed copies against ISO 19005-3 and the signature's own checks, by pyhanko's validation.

Clauses: the profile named in test_pdf_archive.py, whose other rules are run over the signed copy too. ETSI EN 319 142-1 is
the form of the signature (from memory: a detached one, without the CMS attribute of the signing time).
"""

from __future__ import annotations

import datetime as dt
import inspect
import re
import socket
from collections.abc import Callable
from functools import cache
from io import BytesIO
from typing import Any

import pikepdf
import pytest

from shopdocs.documents.press.signing import FIELD, signed_copy
from shopdocs.problems import BadInput
from tests import papers_samples as samples
from tests.certificates import NOW, PASSWORD, Made, certificate, verdict
from tests.published import test_pdf_archive as archive

PAPERS = ("electronic invoice", "claim")
SAME_RULES = [
    rule
    for name, rule in inspect.getmembers(archive, inspect.isfunction)
    if name.startswith("test_") and list(inspect.signature(rule).parameters) == ["paper"]
    if name not in ("test_6_3_no_annotations", "test_6_4_and_6_5_no_forms_and_no_actions")
]


def sign(pdf: bytes, made: Made, now: dt.datetime = NOW) -> bytes:
    return signed_copy(pdf, certificate=made.file, password=PASSWORD, reason="Invoice I-3017", now=now)


@cache
def signed(name: str) -> bytes:
    return sign(archive.drawn(name), certificate())


@pytest.mark.parametrize("name", PAPERS)
@pytest.mark.parametrize("rule", SAME_RULES, ids=lambda rule: rule.__name__)
def test_the_rules_of_every_paper_hold_for_its_signed_copy(rule: Callable[[bytes], None], name: str) -> None:
    rule(signed(name))


def test_the_rules_that_are_run_are_most_of_all() -> None:
    assert len(SAME_RULES) >= 12


@pytest.mark.parametrize("name", PAPERS)
def test_6_3_2_to_6_4_2_the_field_of_the_signature(name: str) -> None:
    with pikepdf.open(BytesIO(signed(name))) as document:
        form: Any = document.Root.AcroForm
        assert set(form.keys()) == {"/Fields", "/SigFlags"}, "no NeedAppearances, no XFA"
        (field,) = form.Fields
        (shown,) = [note for page in document.pages for note in page.get("/Annots", [])]
        assert field.T == FIELD and field.objgen == shown.objgen and shown.Subtype == "/Widget"
        assert shown.F & 0b100000100111 == 0b100, "printed, and not hidden in any way"
        assert shown.Rect[0] == shown.Rect[2] and shown.Rect[1] == shown.Rect[3], "needs no appearance"
        assert not {"/A", "/AA", "/AP"} & set(shown.keys())
        assert not {"/AA", "/NeedsRendering", "/OpenAction"} & set(document.Root.keys())
        assert field.V.SubFilter == "/ETSI.CAdES.detached"


@pytest.mark.parametrize("name", PAPERS)
def test_the_signature_covers_the_whole_file_and_stands_behind_the_paper(name: str) -> None:
    paper, copy = archive.drawn(name), signed(name)
    assert copy.startswith(paper), "the paper's own bytes"
    (found,) = re.finditer(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\s*\]", copy)
    start, first, second, rest = (int(part) for part in found.groups())
    assert (start, second + rest) == (0, len(copy))
    assert re.fullmatch(rb"<[0-9a-fA-F]+>", copy[first:second]), "all but the signature itself"
    assert verdict(copy, certificate().der) == (True, True, "ENTIRE_FILE")


def test_the_metadata_are_those_of_the_paper() -> None:
    with pikepdf.open(BytesIO(archive.drawn("claim"))) as paper, pikepdf.open(BytesIO(signed("claim"))) as copy:
        assert copy.Root.Metadata.read_bytes() == paper.Root.Metadata.read_bytes()
        assert {key: str(value) for key, value in copy.docinfo.items()} == {
            key: str(value) for key, value in paper.docinfo.items()
        }


def test_a_changed_byte_is_found_in_the_paper_and_in_what_was_appended() -> None:
    copy = signed("electronic invoice")
    moment = copy.rindex(b"Z)\n/") - 1  # the last digit of the moment that it names
    in_a_page, in_its_reason = copy.index(b"stream") + 60, copy.rindex(b"/Reason (") + 9
    for at in (in_a_page, moment, in_its_reason):  # places where a reader still opens the file
        changed = bytearray(copy)
        changed[at] ^= 1
        assert verdict(bytes(changed), certificate().der)[:2] == (False, False)


def test_what_is_added_behind_is_not_covered() -> None:
    with pikepdf.open(BytesIO(signed("claim"))) as document:
        assert len(document.pages) > 1
    longer = signed("claim") + signed("claim")[len(archive.drawn("claim")) :]
    assert verdict(longer, certificate().der)[2] != "ENTIRE_FILE"


def test_another_certificate_is_not_trusted() -> None:
    assert verdict(signed("claim"), certificate(curve=True).der)[:2] == (True, False)


def test_a_key_on_a_curve_signs_as_well() -> None:
    made = certificate(curve=True)
    assert verdict(sign(archive.drawn("claim"), made), made.der) == (True, True, "ENTIRE_FILE")


@pytest.mark.parametrize(("first", "last"), [(-40, -10), (10, 40)])
def test_a_certificate_signs_within_its_days_alone(first: int, last: int) -> None:
    with pytest.raises(BadInput, match="certificate holds from"):
        sign(archive.drawn("claim"), certificate(first, last))


def test_nothing_is_fetched(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **more: object) -> None:
        raise AssertionError("an address was asked")

    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    module, make = samples.ALL_PAPERS["statement"]
    assert verdict(sign(module.draw(make(), {}).pdf, certificate()), certificate().der)[0]
