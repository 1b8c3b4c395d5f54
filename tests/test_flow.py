"""The whole flow over HTTP, from check-in to a paid claim, and what its papers say, read back from the PDFs.

On SQLite with the worker in this process; on PostgreSQL and Redis with a worker in a process of its own.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from decimal import Decimal
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any
from urllib.parse import quote
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
import zxingcpp
from django.conf import settings as django_settings
from django.db import connection
from pypdf import PdfReader

from orders.models import (
    CreditNote,
    Customer,
    Distributor,
    Invoice,
    LabourOperation,
    MachineModel,
    Maker,
    Part,
    Payment,
    RepairOrder,
    Unit,
    WriteOff,
)
from shopdocs import environment
from shopdocs.demo import story, visits, world
from shopdocs.demo.clock import story_time
from shopdocs.demo.floor import V1, Floor
from shopdocs.demo.papers import all_drawn, everything
from shopdocs.documents.models import Document
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import LabourRate, Shop, TaxRate, User
from tests.conftest import QUEUE, wait_for
from warranty.models import Claim, Credit, DistributorTerms, MakerTerm, TurnOver

ROOT = Path(__file__).resolve().parent.parent
ZONE = ZoneInfo(world.SHOP["time_zone"])


def address_of(place: dict[str, Any]) -> str:
    """The DATABASE_URL of a database of Django's, its password kept."""
    who = quote(place["USER"], safe="") + (f":{quote(place['PASSWORD'], safe='')}" if place.get("PASSWORD") else "")
    return f"postgres://{who}@{place['HOST']}:{place['PORT'] or 5432}/{place['NAME']}"


def test_the_second_process_gets_the_password_of_the_database() -> None:
    place = {"USER": "shop", "PASSWORD": "p#s@s/", "HOST": "db.example", "PORT": "", "NAME": "test_shopdocs"}
    made = environment.database("DATABASE_URL", address_of(place), Path("unused"))
    assert {key: made[key] for key in ("USER", "PASSWORD", "HOST", "NAME")} == {
        key: place[key] for key in ("USER", "PASSWORD", "HOST", "NAME")
    }
    assert address_of({**place, "PASSWORD": ""}) == "postgres://shop@db.example:5432/test_shopdocs"


@pytest.fixture
def some_worker(request: pytest.FixtureRequest, tmp_path: Path, transactional_db: None) -> Iterator[None]:
    """The embedded worker, or, with Redis, one in a process of its own, as a second machine would run it."""
    if not django_settings.REDIS_URL:
        request.getfixturevalue("worker")
        yield
        return
    place = connection.settings_dict
    environment = {
        **os.environ,
        "DATABASE_URL": address_of(place),
        "REDIS_URL": django_settings.REDIS_URL,
        "QUEUE_NAME": QUEUE,
        "STORAGE_URL": f"file://{tmp_path / 'files'}",
        "LETTER_FOLDER": str(tmp_path / "letters"),
        "VAR_DIR": str(tmp_path / "var"),
    }
    command = [sys.executable, "-m", "celery", "-A", "shopdocs.celery", "worker", "--concurrency", "2", "-l", "warning"]
    with subprocess.Popen(command, cwd=ROOT, env=environment) as process:
        yield
        process.terminate()


@pytest.fixture
def floor(live_server: Any, some_worker: None) -> Iterator[Floor]:
    """The invented shop with its catalogue, its people signed in, forty days ago."""
    begin = dt.datetime.now(ZONE).replace(hour=9, minute=0) - dt.timedelta(days=40)
    with story_time(begin) as clock:
        story.open_the_shop()
        made = story.people_at_work(live_server.url, clock)
        story.fill_the_catalogue(made)
        yield made


def text_of(pdf: bytes) -> str:
    """The paper's text with its white space folded."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def codes_of(pdf: bytes) -> list[list[str]]:
    """What a reader finds on each page at 150 dpi."""
    pages = pypdfium2.PdfDocument(pdf)
    return [[code.text for code in zxingcpp.read_barcodes(page.render(scale=150 / 72).to_pil())] for page in pages]


def pictures_of(pdf: bytes) -> int:
    """How many photos stand on the pages, one twice counted twice; what is smaller than a photo is none."""
    images = [image.image for page in PdfReader(io.BytesIO(pdf)).pages for image in page.images]
    return sum(image is not None and min(image.size) >= 100 for image in images)


def photos_told(pdf: bytes) -> list[str]:
    """The captions of the photos that the paper's own facts list, wherever in them they stand."""

    def found(value: Any) -> list[str]:
        if isinstance(value, list):
            return [caption for one in value for caption in found(one)]
        if not isinstance(value, dict):
            return []
        if "sha256" in value and "caption" in value:
            return [value["caption"]]
        return [caption for one in value.values() for caption in found(one)]

    return found(json.loads(PdfReader(io.BytesIO(pdf)).attachments["facts.json"][0]))


def check_photos(papers: dict[str, tuple[dict[str, Any], bytes]], photos: list[dict[str, Any]]) -> None:
    """Each photo of the order stands where it belongs, with its caption; its facts list no more and no fewer."""
    every = [photo["caption"] for photo in photos]
    assert len(every) == len(set(every)) == 5
    about = [photo["caption"] for photo in photos if photo["moment"] == "before"]
    for kind, wanted in {"claim": every, "repair_order": every, "estimate": about, "invoice": []}.items():
        pdf = papers[kind][1]
        assert sorted(photos_told(pdf)) == sorted(wanted), f"the photos that the facts of the {kind} list"
        assert pictures_of(pdf) == len(wanted), f"the pictures on the {kind}"
        for caption in wanted:
            assert caption in text_of(pdf), f"the photo '{caption}' on the {kind}"


def papers_by_kind(floor: Floor) -> dict[str, tuple[dict[str, Any], bytes]]:
    wait_for(lambda: all_drawn(floor.owner), 60)
    rows = everything(floor.owner, f"{V1}/documents/")
    return {row["kind"]: (row, floor.owner.download(f"{V1}/documents/{row['id']}/pdf/")) for row in reversed(rows)}


def shown_money(amount: Any) -> str:
    return f"{Decimal(str(amount)):,.2f}"


@pytest.mark.django_db(transaction=True)
def test_one_machine_from_check_in_to_a_paid_claim(floor: Floor, settings: Any) -> None:
    order_id = visits.saw_that_will_not_start(floor)
    order = floor.owner.get(f"{V1}/orders/{order_id}/")
    assert order["state"] == "given_back"
    assert {job["state"] for job in order["jobs"]} == {"done"}
    assert {job["payer"] for job in order["jobs"]} == {"warranty", "customer"}

    # Decide: covered by the maker's own promise, with steps and sources.
    decision = everything(floor.owner, f"{V1}/decisions/")
    covered = [row for row in decision if row["answer"] == "covered"]
    assert covered, decision
    claim = everything(floor.office, f"{V1}/claims/")[0]
    assert claim["state"] == "settled"
    assert Decimal(claim["expected"]) == Decimal(claim["labour_expected"]) + Decimal(claim["parts_expected"])
    # 0.5 + 0.3 + 0.4 h of guide time at Northfell's 74.00, the module at 112 percent of its cost.
    assert Decimal(claim["labour_expected"]) == Decimal("88.80")
    assert Decimal(claim["parts_expected"]) == Decimal("58.58")
    repaired = dt.date.fromisoformat(claim["repaired_on"])
    assert dt.date.fromisoformat(claim["deadline"]) == repaired + dt.timedelta(days=30)

    # The papers, read back.
    papers = papers_by_kind(floor)
    assert set(papers) >= {"repair_order", "estimate", "invoice", "claim"}
    texts = {kind: text_of(pdf) for kind, (_, pdf) in papers.items()}
    serial = order["unit"]["serial"]
    for kind, text in texts.items():
        assert serial in text, f"the serial on the {kind}"
        assert order["number"] in text or kind == "estimate", f"the order's number on the {kind}"
    estimate = floor.writer.get(f"{V1}/estimates/{order['estimates'][0]['id']}/")
    assert shown_money(estimate["customer_total"]) in texts["estimate"]
    invoice = floor.writer.get(f"{V1}/invoices/{order['invoices'][0]['id']}/")
    assert shown_money(invoice["total"]) in texts["invoice"]
    assert Decimal(invoice["balance"]) == 0
    assert Decimal(invoice["total"]) == Decimal(estimate["customer_total"])
    assert shown_money(claim["expected"]) in texts["claim"]
    for tenths in ("0.5", "0.3", "0.4", "1.2"):
        assert tenths in texts["claim"], f"{tenths} h on the claim"
    assert "40 CFR 1054.120" in texts["claim"], "the term that pays best, with its source"
    assert "advice" in texts["estimate"].lower()
    check_photos(papers, floor.owner.get(f"{V1}/orders/{order_id}/")["photos"])
    records = {
        "repair_order": f"orders/{order_id}", "estimate": f"estimates/{estimate['id']}",
        "invoice": f"invoices/{invoice['id']}", "claim": f"claims/{claim['id']}",
    }  # fmt: skip
    for kind, record in records.items():
        for page in codes_of(papers[kind][1]):
            assert page == [f"{settings.PUBLIC_URL}{V1}/{record}/"], f"the code on every page of the {kind}"
    for kind, (row, pdf) in papers.items():
        pages = len(PdfReader(io.BytesIO(pdf)).pages)
        assert row["pages"] == pages
        assert f"page 1 of {pages}" in texts[kind]
        assert [len(page) for page in codes_of(pdf)] == [1] * pages, f"a code that scans on every page of the {kind}"
        assert row["replaced"] == []

    # What was sent can be seen again, byte for byte.
    letters = everything(floor.owner, f"{V1}/letters/")
    assert {row["kind"] for row in letters} >= {"estimate", "invoice", "claim"}
    on_disk = {path.read_bytes() for path in Path(settings.LETTER_FOLDER).glob("*.eml")}
    for row in letters:
        sent = floor.owner.download(f"{V1}/letters/{row['id']}/message/")
        assert sent in on_disk, f"the {row['kind']} letter as the mail server got it"
        attached = [part.get_content() for part in message_from_bytes(sent, policy=policy.default).iter_attachments()]
        kept = [floor.owner.download(f"{V1}/documents/{pk}/pdf/") for pk in row["documents"]]
        if row["kind"] == "claim":
            (proof,) = floor.owner.get(f"{V1}/units/{order['unit']['id']}/")["proofs"]
            kept.append(floor.owner.download(f"{V1}/photos/{proof['photo']}/file/"))
            assert kept[-1].startswith(b"%PDF"), "the receipt came as a PDF and goes along with the claim"
        assert attached == kept and kept

    changed_behind_its_back(order_id)


def changed_behind_its_back(order_id: str) -> None:
    """Every rate, term and name changes; each paper drawn again from its row is the same, byte for byte."""
    shop = Shop.objects.get(slug="demo")
    before = {row.pk: read_file(row.pdf) for row in Document.objects.for_shop(shop).filter(state="done")}
    assert len(before) >= 4
    for rate in (LabourRate, TaxRate, DistributorTerms):
        for row in rate.objects.for_shop(shop):
            for field in ("per_hour", "percent", "labour_rate", "parts_percent"):
                if getattr(row, field, None) is not None:
                    setattr(row, field, Decimal("1.11"))
            row.save()
    named = [
        (Customer, "name"), (Maker, "name"), (Part, "words"), (LabourOperation, "words"), (Distributor, "name"),
        (MachineModel, "name"), (TaxRate, "name"),
    ]  # fmt: skip
    for model, field in named:
        assert model.objects.for_shop(shop).exists(), model.__name__
        for number, row in enumerate(model.objects.for_shop(shop)):
            setattr(row, field, f"Renamed {number}")
            row.save()
    assert User.objects.filter(places__shop=shop).update(first_name="Some", last_name="Body") == len(world.PEOPLE)
    Part.objects.for_shop(shop).update(list_price=Decimal("999.00"), cost=Decimal("998.00"))
    Unit.objects.for_shop(shop).update(serial="ZZZ", purchased_on=dt.date(2020, 1, 1))
    MakerTerm.objects.for_shop(shop).update(term={}, retired_on=dt.date(2020, 1, 1))
    RepairOrder.objects.for_shop(shop).filter(pk=order_id).update(complaint="changed")
    Shop.objects.filter(pk=shop.pk).update(name="Another Name", accent="#ff0000", street="Elsewhere", paper="a4")
    shop.refresh_from_db()
    for document in Document.objects.for_shop(shop).filter(pk__in=before):
        assert draw_sheet(shop, document.kind, document.sheet).pdf == before[document.pk], document.title


@pytest.mark.django_db(transaction=True)
def test_each_visit_of_the_month_ends_as_it_should(floor: Floor) -> None:
    answers: dict[str, list[str]] = {}
    orders: dict[str, dict[str, Any]] = {}
    for days_before, visit in visits.MONTH[1:]:
        floor.at(dt.datetime.now(ZONE).date() - dt.timedelta(days=days_before), 9)
        pk = visit(floor)
        orders[visit.__name__] = floor.owner.get(f"{V1}/orders/{pk}/")
        rows = everything(floor.owner, f"{V1}/orders/{pk}/decisions/")
        answers[visit.__name__] = [row["answer"] for row in rows]
    assert set(answers["trimmer_out_by_a_day"]) == {"not_covered"}
    assert answers["rental_blower_past_ninety_days"] == ["covered"]
    assert set(answers["mower_that_hit_a_stump"]) == {"not_covered"}
    assert answers["generator_with_unknown_facts"] == ["cannot_say_yet"]
    assert answers["pump_of_a_second_owner"] == ["not_covered"]
    assert answers["generator_that_leaks_oil"] == ["covered"]
    assert set(answers["blower_with_a_chain_of_causes"]) == {"not_covered"}
    assert answers["season_service"] == []
    assert answers["trimmer_that_leaks_fuel"] == ["covered"]
    stump = orders["mower_that_hit_a_stump"]
    assert sorted(job["state"] for job in stump["jobs"]) == ["declined", "done"]
    chain = orders["blower_with_a_chain_of_causes"]
    assert [row["edition"] for row in sorted(chain["estimates"], key=lambda row: row["edition"])] == [1, 2]

    def answers_to(visit: str) -> list[dict[str, Any]]:
        pk = orders[visit]["estimates"][0]["id"]
        answers: list[dict[str, Any]] = floor.writer.get(f"{V1}/estimates/{pk}/")["answers"]
        return answers

    (called,) = answers_to("pump_of_a_second_owner")
    assert (called["channel"], called["phone_number"], called["read_back"]) == ("phone", "555-0139", True)
    (signed,) = answers_to("season_service")
    assert signed["channel"] == "in_person" and signed["signature"]
    assert "and not for more" in signed["agreed_words"]
    (by_link,) = answers_to("trimmer_out_by_a_day")
    assert by_link["channel"] == "link" and by_link["consent_version"] and by_link["paper_sha256"]
    chosen = {}
    for visit in ("rental_blower_past_ninety_days", "trimmer_that_leaks_fuel"):
        (job,) = orders[visit]["jobs"]
        rows = floor.writer.get(f"{V1}/jobs/{job['id']}/refusal-choices/")
        chosen[visit] = [row["choice"] for row in rows]
    assert chosen == {
        "rental_blower_past_ninety_days": ["ask_me"],
        "trimmer_that_leaks_fuel": ["return_unrepaired"],
    }
    kinds = {row["kind"] for row in everything(floor.owner, f"{V1}/documents/")}
    assert {"estimate_answered", "repair_order_signed", "part_tag"} <= kinds
    leak = orders["trimmer_that_leaks_fuel"]
    assert [bool(hold["released_at"]) for hold in leak["holds"]] == [True]
    assert re.match(r"^T-\d+$", leak["holds"][0]["tag"])
    assert orders["generator_with_unknown_facts"]["state"] == "open"
    claims = [floor.office.get(f"{V1}/claims/{row['id']}/") for row in everything(floor.office, f"{V1}/claims/")]
    part_paid = [claim for claim in claims if claim["answers"] and claim["answers"][-1]["outcome"] == "in_part"]
    assert len(part_paid) == 1
    assert Decimal(part_paid[0]["expected"]) > sum(Decimal(credit["amount"]) for credit in part_paid[0]["credits"])
    (spanish,) = (claim for claim in claims if claim["job"] == orders["generator_that_leaks_oil"]["jobs"][0]["id"])
    a_distributor_reads_its_own_language_and_units(floor, spanish)
    the_books_add_up_on_every_day(floor)
    days_are_written_in_one_form(floor)


def a_distributor_reads_its_own_language_and_units(floor: Floor, claim: dict[str, Any]) -> None:
    """The claim, its letter and the tag of the part in Spanish and metric; what was typed stays as it was typed."""
    assert (claim["distributor_name"], claim["approval"], claim["state"]) == ("Sable River Supply", "SR-20417", "filed")
    # 76 minutes on the clock are 1.3 h at 70.00; the gasket at 115 percent of its cost of 6.40.
    assert (claim["labour_expected"], claim["parts_expected"], claim["expected"]) == ("91.00", "7.36", "98.36")
    assert claim["facts"]["missing"] == [], "everything that a distributor usually asks for is there"
    filed = dt.date.fromisoformat(claim["filed_on"])
    assert claim["deadline"] == str(dt.date.fromisoformat(claim["repaired_on"]) + dt.timedelta(days=21))
    assert claim["answer_due"] == str(filed + dt.timedelta(days=30))
    (hold,) = claim["parts_holds"]
    assert hold["keep_until"] == str(filed + dt.timedelta(days=45))

    wait_for(lambda: all_drawn(floor.owner), 60)
    (tag,) = (row for row in everything(floor.owner, f"{V1}/documents/") if row["kind"] == "part_tag")
    paper, label = (text_of(floor.owner.download(f"{V1}/documents/{pk}/pdf/")) for pk in (claim["document"], tag["id"]))
    for said in (
        "Reclamación de garantía",
        "Junta del motor, con fugas; 19.1 mm (0.75 in). Pinched when",
        "página 1 de",
    ):
        assert said in paper, said
    for said in (f"Pieza averiada {hold['tag']}", "No la tire", f"Reclamación: {claim['number']}"):
        assert said in label, said
    mail = message_from_bytes(floor.owner.download(f"{V1}/letters/{claim['letter']}/message/"), policy=policy.default)
    body = mail.get_body(("plain",))
    assert body is not None and mail["subject"].startswith("Reclamación de garantía")
    letter = body.get_content()
    assert "Su aprobación antes del trabajo: SR-20417" in letter and "Importe esperado: $98.36" in letter


def the_books_add_up_on_every_day(floor: Floor) -> None:
    """Per payer and day: asked = paid + credited + written off + open, and each of them is the sum of its own records."""
    shop = Shop.objects.get(slug="demo")
    last = floor.today()
    moved = money_records(shop)
    assert all(moved.values()), "every way in which money can move has been used"
    days = [last - dt.timedelta(days=back) for back in range(32)]
    seen: dict[str, set[str]] = {}
    told_last: dict[str, Any] = {}
    for day in days:
        told = floor.office.get(f"{V1}/receivables/", as_of=str(day))
        told_last = told if day == last else told_last
        for one in told["payers"]:
            asked, paid, credited, gone, left = (
                Decimal(one[name]) for name in ("asked", "paid", "credited", "written_off", "open")
            )
            assert asked == paid + credited + gone + left, (day, one["payer"])
            assert left == Decimal(one["total"]) == sum(Decimal(item["open"]) for item in one["items"])
            key = f"{one['payer']['kind']}:{one['payer']['id']}"
            mine = {
                name: sum((amount for payer, on, amount in rows if payer == key and on <= day), Decimal(0))
                for name, rows in moved.items()
            }
            assert asked == mine["invoiced"] + mine["claimed"], (day, key)
            assert paid == mine["deposits"] + mine["payments"] - mine["refunds"] + mine["claim credits"], (day, key)
            assert credited == mine["credit notes"], (day, key)
            assert gone == mine["write-offs"] + mine["turned over"], (day, key)
            seen.setdefault(one["payer"]["kind"], set()).add(key)
        begun = {payer for rows in moved.values() for payer, on, _ in rows if on <= day}
        assert begun == {f"{one['payer']['kind']}:{one['payer']['id']}" for one in told["payers"]}, day
        assert Decimal(told["total"]) == sum((Decimal(one["open"]) for one in told["payers"]), Decimal(0))
    assert len(seen["customer"]) >= 5 and len(seen["distributor"]) == 2
    held = [one for one in told_last["payers"] for item in one["items"] if item["kind"] == "deposit"]
    assert held, "money of a customer that no invoice counts yet is in the books too"
    for key in seen["customer"] | seen["distributor"]:
        kind, _, pk = key.partition(":")
        whole = floor.office.get(f"{V1}/{kind}s/{pk}/statement/", since=str(days[-1]))
        figures = [Decimal(whole[name]) for name in ("carried", "asked", "received", "open")]
        assert figures[0] + figures[1] - figures[2] == figures[3]
        rows = [
            (Decimal(one["asked"] or 0) - Decimal(one["received"] or 0), Decimal(one["balance"]))
            for one in whole["entries"]
        ]
        running = figures[0]
        for change, balance in rows:
            running += change
            assert running == balance
        assert running == figures[3]


def money_records(shop: Shop) -> dict[str, list[tuple[str, dt.date, Decimal]]]:
    """Every movement by payer, day and amount, straight from its records."""

    def who(invoice: Invoice) -> str:
        return f"customer:{invoice.order.customer_id}"

    moved: dict[str, list[tuple[str, dt.date, Decimal]]] = {
        "deposits": [], "payments": [], "refunds": [],
        "invoiced": [(who(one), one.issued_on, one.total) for one in Invoice.objects.for_shop(shop)],
        "credit notes": [(who(one.invoice), one.issued_on, one.total) for one in CreditNote.objects.for_shop(shop)],
        "write-offs": [(who(one.invoice), one.written_on, one.amount) for one in WriteOff.objects.for_shop(shop)],
        "claimed": [
            (f"distributor:{one.distributor_id}", one.filed_on, one.expected) for one in Claim.objects.for_shop(shop)
        ],
        "claim credits": [
            (f"distributor:{one.claim.distributor_id}", one.received_on, one.amount)
            for one in Credit.objects.for_shop(shop)
        ],
        "turned over": [
            (f"distributor:{one.claim.distributor_id}", one.turned_on, one.amount)
            for one in TurnOver.objects.for_shop(shop)
        ],
    }  # fmt: skip
    for row in Payment.objects.for_shop(shop):
        order = row.order or row.invoice.order
        moved[f"{row.kind}s"].append((f"customer:{order.customer_id}", row.received_on, row.amount))
    return moved


def days_are_written_in_one_form(floor: Floor) -> None:
    """'25 Nov 2026', or '25 nov 2026' in Spanish, in every letter and on every paper; never a date that a reader might turn around."""
    wait_for(lambda: all_drawn(floor.owner), 60)
    told = {}
    for row in everything(floor.owner, f"{V1}/letters/"):
        mail = message_from_bytes(floor.owner.download(f"{V1}/letters/{row['id']}/message/"), policy=policy.default)
        body = mail.get_body(("plain",))
        assert body is not None
        told[f"{row['kind']} letter {row['id']}"] = str(body.get_content())
    for row in everything(floor.owner, f"{V1}/documents/"):
        told[row["title"]] = text_of(floor.owner.download(f"{V1}/documents/{row['id']}/pdf/"))
    assert len(told) > 20
    odd = {name: re.findall(r"\b\d{4}-\d\d-\d\d\b|\b\d{1,2}/\d{1,2}/\d{2,4}\b", text) for name, text in told.items()}
    assert {name: found for name, found in odd.items() if found} == {}
    assert all(re.search(r"\b\d{1,2} [A-Za-z][a-z]{2} \d{4}\b", text) for text in told.values())
