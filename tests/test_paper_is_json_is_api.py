"""Five hundred random orders: what a paper prints, the facts inside it, and the API say the same, figure by figure.

The paper is read by its structure tree and the words on its pages. How a figure is written is said here anew, so that
a mistake of the press cannot hide behind itself.
"""

from __future__ import annotations

import datetime as dt
import os
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import RepairOrder
from orders.services.estimates import issue_estimate
from orders.services.papers import request_order_paper
from shopdocs.documents.models import Document
from shopdocs.documents.press.words import words
from shopdocs.documents.services.papers import draw
from shopdocs.shops.models import Staff
from tests.orders_at_random import Floor, a_claim, agreed, an_invoice, an_order, done_in_part, floors
from tests.papers_cells import Paper, read_paper, rows, sums

D = Decimal
Facts = dict[str, Any]
ORDERS, BATCH = 50 if os.environ.get("ONLY_SERVICES") == "1" else 500, 50
"""All of them once; a batch of them again on PostgreSQL, for what differs there is not figures."""
ALIKE = 5
"""Columns of a table of labour, and of parts."""


class Case:
    """One paper, drawn and kept by the worker's own service and fetched at its door."""

    def __init__(self, client: APIClient, floor: Floor, document: Document) -> None:
        self.client, self.floor, self.kind = client, floor, document.kind
        draw(document.pk)
        self.paper: Paper = read_paper(client.get(f"/api/v1/documents/{document.pk}/pdf/").content)
        self.inside: Facts = self.paper.facts["facts"]
        assert self.paper.facts["schema"].startswith(f"urn:shopdocs:paper:{self.kind}:")
        self.symbol, self.decimals = self.inside["currency"]["symbol"], self.inside["currency"]["decimals"]
        self.say = words(self.inside["language"])

    def get(self, path: str) -> Any:
        answer = self.client.get(f"/api/v1/{path}", headers={"X-Shop": self.floor.shop.slug})
        assert answer.status_code == 200, (path, answer.content)
        return answer.json()

    def order(self, order: RepairOrder) -> Facts:
        """The unit and the jobs of the order, as their own doors tell them."""
        unit, jobs = self.get(f"units/{order.unit_id}/"), self.get(f"orders/{order.pk}/jobs/")["results"]
        return {"number": order.number, "unit": unit, "jobs": jobs}

    def bare(self, amount: str | None) -> str:
        if amount is None:
            return self.say("not known")
        assert len(amount.partition(".")[2].rstrip("0")) <= self.decimals, f"{amount} is finer than the currency"
        return f"{D(amount):,.{self.decimals}f}"

    def money(self, amount: str | None) -> str:
        text = self.bare(amount)
        if amount is None:
            return text
        return f"-{self.symbol}{text[1:]}" if text[0] == "-" else f"{self.symbol}{text}"

    def each(self, amount: str) -> str:
        """A price keeps decimals beyond the currency's only as far as it needs them."""
        part = amount.partition(".")[2].rstrip("0")
        return f"{D(amount):,.{max(self.decimals, len(part))}f}"

    def day(self, text: str | None) -> str:
        if text is None:
            return self.say("not known")
        day = dt.date.fromisoformat(text)
        return f"{day.day} {self.say(day.strftime('%b'))} {day.year}"


def number(value: str) -> str:
    whole, _, part = value.partition(".")
    part = part.rstrip("0")
    return f"{int(whole):,}" + (f".{part}" if part else "")


def hours(tenths: int) -> str:
    return f"{tenths // 10}.{tenths % 10}"


def total(amounts: Any) -> Decimal:
    return sum((D(amount) for amount in amounts), D(0))


def alike(given: Any, inside: Any, *names: tuple[str, str]) -> None:
    """The same figures, whatever their zeros: (name in the API, name in the sheet)."""
    for there, here in names:
        assert D(given[there]) == D(inside[here]), (there, given, inside)


def check_lines(case: Case, job: Facts, inside: Facts) -> None:
    """The labour and parts of a job: printed, inside, and in the API's frozen facts; and they add up to the job."""
    told = case.paper.section(f"{case.say('Job')} {job['number']}")
    printed = rows(told, ALIKE)
    labour, parts = printed[: len(job["labour"])], printed[len(job["labour"]) :]
    assert len(job["labour"]) == len(inside["labour"]) == len(labour)
    for line, kept, row in zip(job["labour"], inside["labour"], labour, strict=True):
        assert (row[0], *row[2:]) == (
            line["code"],
            hours(line["tenths"]),
            case.each(line["rate"]),
            case.bare(line["amount"]),
        )
        assert row[1].startswith(line["words"])
        assert (line["code"], line["tenths"]) == (kept["code"], kept["tenths"])
        alike(line, kept, ("rate", "rate"), ("amount", "amount"))
    extra = [("", "1", one["price"], one["amount"]) for one in job["fees"]]
    # What pricing added is printed before its discounts, which stand in its words.
    before = [sum((D(cut["amount"]) for cut in one["less"]), D(one["amount"])) for one in job["extras"]]
    extra += [("", "1", f"{gross}", one["amount"]) for gross, one in zip(before, job["extras"], strict=True)]
    listed = [(one["number"], one["quantity"], one["unit_price"], one["amount"]) for one in job["parts"]] + extra
    assert [(row[0], *row[2:]) for row in parts] == [
        (code, number(pieces), case.each(each), case.bare(amount)) for code, pieces, each, amount in listed
    ]
    assert [(one["number"], D(one["quantity"]), D(one["each"]), D(one["amount"])) for one in inside["parts"]] == [
        (code, D(pieces), D(each), D(amount)) for code, pieces, each, amount in listed
    ]
    label = f"{case.say('Job')} {job['number']}, {case.say('before tax')}"
    assert (label, case.money(job["net"])) in sums(told)
    alike(job, inside, ("net", "subtotal"))
    assert total(row[4].replace(",", "") for row in printed) == D(job["net"]), "the lines add up to the job"


def check_records(case: Case, order: Facts, job: Facts) -> None:
    """The lines that were priced against the lines that stand on the job, as its own door tells them."""
    record = next(one for one in order["jobs"] if one["number"] == job["number"])
    assert [(one["code"], one["words"]) for one in record["labour"]] == [
        (one["code"], one["words"]) for one in job["labour"]
    ]
    assert [(one["number"], D(one["quantity"]), D(one["unit_price"])) for one in record["parts"]] == [
        (one["number"], D(one["quantity"]), D(one["unit_price"])) for one in job["parts"]
    ]
    assert [(one["words"], D(one["amount"])) for one in record["fees"]] == [
        (one["words"], D(one["price"])) for one in job["fees"]
    ]
    if not any(line.get("limited") for line in job["labour"]):
        beside = (job.get("labour_time") or {}).get("beside") or {"saved": 0}  # the record tells the job by itself
        charged = sum(line["tenths"] for line in job["labour"])
        assert D(record["times"]["guide"]) * 10 == charged + D(beside["saved"]) * 10


def check_machine(case: Case, order: Facts) -> None:
    """Serial, hours and numbers: as the order's own door tells them."""
    told = [one.texts[0] for one in case.paper.section(case.say("Machine")) if one.tag == "P"]
    assert f"{case.say('Serial number')} {order['unit']['serial']}" in told
    assert case.inside["unit"]["serial"] == order["unit"]["serial"]
    meter = next(text for text in told if text.startswith(case.say("Hour meter")))
    assert meter.startswith(f"{case.say('Hour meter')} {number(case.inside['unit']['hours'])} h (")
    (reading,) = order["unit"]["hour_readings"]
    assert D(case.inside["unit"]["hours"]) == D(reading["hours"])
    assert order["number"] in case.paper.text()


def check_taxes(case: Case, told: Any, taxes: list[Facts]) -> None:
    """Each tax with its rate, what it was taken of, and its amount."""
    for tax, kept in zip(taxes, case.inside["taxes"], strict=False):
        of = f", {number(tax['percent'])} % {case.say('of')} {case.money(tax['base'])}"
        assert any(
            a.startswith(tax["name"]) and a.endswith(of) and b == case.money(tax["amount"]) for a, b in sums(told)
        )
        alike(tax, kept, ("percent", "percent"), ("base", "base"), ("amount", "amount"))


def an_estimate_says_the_same(client: APIClient, floor: Floor) -> Case:
    order = an_order(floor)
    estimate = issue_estimate(**floor.who, order_id=order.pk)
    assert estimate.document is not None
    case = Case(client, floor, estimate.document)
    api, door = case.get(f"estimates/{estimate.pk}/"), case.order(order)
    check_machine(case, door)
    facts = api["facts"]
    for job, inside in zip(facts["jobs"], case.inside["jobs"], strict=True):
        check_lines(case, job, inside)
        check_records(case, door, job)
        if inside["customer_pays"] is not None:
            alike(job, inside, ("customer_pays", "customer_pays"))
            pair = case.say("of which you pay"), case.money(job["customer_pays"])
            assert pair in sums(case.paper.section(f"{case.say('Job')} {job['number']}"))
    told = case.paper.section(case.say("Totals"))
    assert [row[1:] for row in rows(told, 4)] == [
        tuple(case.bare(one[name]) for name in ("net", "tax", "total")) for one in facts["payers"]
    ]
    check_taxes(case, told, facts["customer_taxes"])
    assert sums(told)[-1] == (case.say("Customer pays"), case.money(api["customer_total"]))
    assert D(api["customer_total"]) == D(case.inside["customer_total"]) == D(facts["customer_total"])
    assert total(row[3].replace(",", "") for row in rows(told, 4)) == D(api["total"])
    assert (case.inside["number"], case.inside["version"]) == (api["number"], api["edition"])
    assert (
        f"{api['number']} · {case.say('version')} {api['edition']} · {case.day(api['issued_on'])}" in case.paper.text()
    )
    return case


def an_invoice_says_the_same(client: APIClient, floor: Floor) -> Case:
    invoice = an_invoice(floor)
    assert invoice.document is not None
    case = Case(client, floor, invoice.document)
    api, door = case.get(f"invoices/{invoice.pk}/"), case.order(invoice.order)
    facts = api["facts"]
    check_machine(case, door)
    for job, inside in zip(facts["jobs"], case.inside["jobs"], strict=True):
        check_lines(case, job, inside)
        check_records(case, door, job)
        alike(job, inside, ("customer_pays", "customer_pays"))
    others = rows(case.paper.section(case.say("Paid by others")), 2)
    assert [row[1] for row in others] == [case.bare(one["amount"]) for one in facts["others"]]
    told = case.paper.section(case.say("You pay"))
    printed = sums(told)
    assert printed[0] == (case.say("Before tax"), case.money(facts["net"]))
    check_taxes(case, told, facts["taxes"])
    assert (case.say("Total"), case.money(api["total"])) in printed
    assert (
        D(api["total"]) == D(case.inside["total"]) == D(facts["net"]) + total(one["amount"] for one in facts["taxes"])
    )
    assert D(api["balance"]) == D(case.inside["due"]) == D(api["total"]) - D(api["paid"])
    label = next(
        label for label, amount in printed if amount == case.money(api["balance"]) and label.startswith(case.say("Due"))
    )
    assert label.endswith(case.day(api["due_on"])) or not D(api["balance"])
    assert total(one["amount"] for one in case.inside["payments"]) == D(api["paid"])
    for one in case.inside["payments"]:
        assert any(amount == case.money(f"-{one['amount']}") for _, amount in printed)
    lines = case.get(f"invoices/{invoice.pk}/lines/")
    assert total(one["amount"] for one in lines) == D(facts["net"]), (
        "the lines that can be taken back are what was asked"
    )
    assert case.inside["number"] == api["number"] and api["number"] in case.paper.text()
    return case


def a_repair_order_says_the_same(client: APIClient, floor: Floor) -> Case:
    order = an_order(floor)
    agreed(floor, order)
    done_in_part(floor, order)
    case = Case(client, floor, request_order_paper(**floor.who, order_id=order.pk))
    api = case.order(order)
    check_machine(case, api)
    assert case.inside["number"] == api["number"]
    for job, inside in zip(api["jobs"], case.inside["jobs"], strict=True):
        printed = rows(case.paper.section(f"{case.say('Job')} {job['number']}"), 4)
        work, parts = printed[: len(inside["work"])], printed[len(inside["work"]) :]
        assert [(row[0], row[2]) for row in work] == [(one["code"], hours(one["tenths"])) for one in inside["work"]]
        spent = job["clocked_minutes"]
        clock = [f"{spent // 60}:{spent % 60:02d}"] if job["time"] and job["labour"] else []
        assert [row[3] for row in work if row[3]] == clock
        assert [one["clocked_minutes"] for one in inside["work"] if one["clocked_minutes"] is not None] == [
            spent
        ] * len(clock)
        guide = [(one["code"], int(D(one["hours"]) * 10)) for one in job["labour"]]
        assert [(one["code"], one["tenths"]) for one in inside["work"][: len(guide)]] == guide
        summed = [one["tenths"] for one in inside["work"][len(guide) :]]
        assert summed in ([], [int(D(job["times"]["guide"]) * 10)])
        assert [(row[0], row[3]) for row in parts] == [(one["number"], number(one["quantity"])) for one in job["parts"]]
        assert [(one["number"], D(one["quantity"])) for one in inside["parts"]] == [
            (one["number"], D(one["quantity"])) for one in job["parts"]
        ]
    return case


def a_claim_says_the_same(client: APIClient, floor: Floor) -> Case:
    claim = a_claim(floor)
    assert claim.document is not None
    case = Case(client, floor, claim.document)
    api, door = case.get(f"claims/{claim.pk}/"), case.order(claim.job.order)
    check_machine(case, door)
    facts, inside = api["facts"], case.inside
    told = case.paper.section(case.say("Labour asked for"))
    printed = list(rows(told, 3) or rows(told, 4))
    assert [(row[0], row[-1]) for row in printed] == [
        (one["code"], hours(one["tenths"])) for one in facts["labour"]["lines"]
    ]
    assert [(one["code"], one["tenths"]) for one in inside["labour"]] == [
        (one["code"], one["tenths"]) for one in facts["labour"]["lines"]
    ]
    assert (case.say("Hours in all"), hours(inside["labour_tenths"])) in sums(told)
    assert inside["labour_tenths"] == facts["labour"]["tenths"] == sum(one["tenths"] for one in inside["labour"])
    assert sums(told)[-1] == (case.say("Labour expected"), case.money(api["labour_expected"]))
    told = case.paper.section(case.say("Parts asked for"))
    assert [(row[0], *row[2:]) for row in rows(told, 5)] == [
        (one["number"], number(one["quantity"]), case.each(one["each"]), case.bare(one["amount"]))
        for one in facts["parts"]["lines"]
    ]
    fitted = [
        (one["number"], D(one["quantity"])) for one in next(j for j in door["jobs"] if j["id"] == api["job"])["parts"]
    ]
    assert Counter((one["number"], D(one["quantity"])) for one in inside["parts"]) == Counter(fitted)
    assert sums(told)[-1] == (case.say("Parts expected"), case.money(api["parts_expected"]))
    assert sums(case.paper.section(case.say("Expected"))) == [
        (case.say("Expected in all"), case.money(api["expected"]))
    ]
    for there, here in (
        ("labour_expected", "labour_amount"),
        ("parts_expected", "parts_amount"),
        ("expected", "expected"),
    ):
        assert api[there] is inside[here] is None or D(api[there]) == D(inside[here])
    known = api["labour_expected"] is not None and api["parts_expected"] is not None
    assert known == (api["expected"] is not None)
    assert not known or D(api["expected"]) == D(api["labour_expected"]) + D(api["parts_expected"])
    assert (inside["number"], inside["deadline"], inside["repaired_on"]) == (
        api["number"],
        api["deadline"],
        api["repaired_on"],
    )
    assert f"{case.say('File before the end of')} {case.day(api['deadline'])}" in case.paper.text()
    return case


ROTATION: tuple[Callable[[APIClient, Floor], Case], ...] = (
    an_estimate_says_the_same, a_repair_order_says_the_same, an_invoice_says_the_same, a_claim_says_the_same,
)  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(ORDERS // BATCH))
def test_the_paper_the_facts_inside_it_and_the_api_say_the_same(
    api: Callable[[Staff | None], APIClient], seed: int
) -> None:
    """Fifty orders a seed, so that several processes share them; what fails names its seed and place."""
    shops = [(floor, api(floor.owner)) for floor in floors(seed)]
    seen: Counter[tuple[str, int]] = Counter()
    languages: Counter[str] = Counter()
    for at in range(BATCH):
        floor, client = shops[at // len(ROTATION) % len(shops)]
        try:
            case = ROTATION[at % len(ROTATION)](client, floor)
        except Exception as error:
            raise AssertionError(f"seed {seed}, order {at}: {error}") from error
        seen[case.kind, case.decimals] += 1
        languages[case.inside["language"]] += 1
    assert sum(seen.values()) == BATCH and len(seen) == len(ROTATION) * len(shops), seen
    assert set(languages) == {"en", "es"}
