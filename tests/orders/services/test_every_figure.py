"""Every amount that estimate and invoice print is found among the figures that list how they came about."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Estimate, Invoice, Job, RepairOrder
from orders.services.estimates import issue_estimate
from orders.services.invoice_lines import all_lines
from orders.services.options import add_option
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.shops.models import Shop, Staff
from tests.conftest import member
from tests.orders.back_kit import season_service, set_rates, sharpening
from tests.orders.services.test_explained import a_rich_invoice, adds_up

pytestmark = pytest.mark.django_db
D = Decimal
Facts = dict[str, Any]
# What is entered and not worked out: a price, a rate, a number of pieces or hours, a percentage.
ENTERED = {"each", "rate", "quantity", "percent", "hours", "value_after", "price_new"}


def printed(thing: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Decimal]]:
    """Every Decimal of a sheet with its way there, but for what was entered."""
    if isinstance(thing, Decimal):
        if path[-1] not in ENTERED:
            yield path, thing
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            yield from printed(getattr(thing, field.name), (*path, field.name))
    elif isinstance(thing, tuple):
        for at, one in enumerate(thing):
            yield from printed(one, (*path, at))


def name_of(path: tuple[Any, ...], facts: Facts, taxes: list[Facts], net: str = "net") -> str:
    """The figure that a place on the paper belongs to. A place that nobody named here is an error."""
    match path:
        case ("jobs", job, ("labour" | "parts") as kind, at, "amount"):
            lines = list(all_lines(facts["jobs"][job]))
            return f"line:{lines[at + (0 if kind == 'labour' else len(facts['jobs'][job]['labour']))].key}"
        case ("jobs", job, "subtotal"):
            return f"job:{facts['jobs'][job]['number']}"
        case ("jobs", job, "customer_pays"):
            return f"share:{facts['jobs'][job]['number']}"
        case ("taxes", at, ("base" | "amount") as what):
            if at == len(taxes):
                return net if what == "base" else "exempt"
            return f"{'base' if what == 'base' else 'tax'}:{taxes[at]['name']}:{taxes[at]['percent']}"
        case ("payers", at, what):
            return f"payer:{facts['payers'][at]['payer']}:{what}"
        case ("options", group, "ways", at, what):
            assert what == "customer_pays"
            return f"option:{facts['options'][group]['options'][at]['id']}"
        case ("customer_total",):
            return "total"
        case (("net" | "total" | "due") as name,):
            return name
    raise AssertionError(f"no figure is named for {path}")


def an_estimate(shop: Shop, owner: Staff, order: RepairOrder) -> Estimate:
    repair = season_service(shop, owner, order, title="Only the repair")
    both = sharpening(shop, owner, order, title="With the wear items")
    add_option(
        shop=shop, by=owner, order_id=order.pk, group="Way", name="Repair", jobs=[repair.pk], value_after=D("210")
    )
    add_option(
        shop=shop, by=owner, order_id=order.pk, group="Way", name="Both", jobs=[repair.pk, both.pk],
        value_after=D("260"), price_new=D("549.99"),
    )  # fmt: skip
    add_option(shop=shop, by=owner, order_id=order.pk, group="Way", name="Leave it", kind="replace")
    return issue_estimate(shop=shop, by=owner, order_id=order.pk)


CASES = [{}, {"tax_inclusive": True}, {"tax_stacking": "separate", "minimum_labour": D("120")}]


@pytest.mark.parametrize("exempt", [False, True])
@pytest.mark.parametrize("terms", CASES)
def test_every_amount_on_an_invoice_and_its_estimate_has_its_how(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, terms: Facts, exempt: bool
) -> None:
    Customer.objects.update(tax_exempt=exempt, tax_certificate="EX-7" if exempt else "")
    invoice = a_rich_invoice(shop, owner, order, **terms)
    found = amounts_found(client.get(f"/api/v1/invoices/{invoice.pk}/how/").json())
    seen = 0
    for path, amount in printed(invoice_sheet(invoice.facts)):
        seen += 1
        match path:
            case ("jobs", _, "labour" | "parts", _, "amount"):
                name = name_of(path, invoice.facts, invoice.facts["taxes"])
                assert found.get(name.replace("line:", "whole:"), found.get(name)) == amount, path
            case ("others", at, "amount"):
                other = invoice.facts["others"][at]
                assert (other["why"], amount) in steps_of(invoice.facts, f"payer:{other['payer']}"), path
            case ("payments", _, "amount"):
                assert -amount in [step for _, step in steps_of(invoice.facts, "due")], path
            case _:
                assert found[name_of(path, invoice.facts, invoice.facts["taxes"])] == amount, path
    assert seen > 20 and len(invoice.facts["jobs"]) == 3
    agreed = Estimate.objects.get()
    every_amount_is_explained(agreed, client)


def amounts_found(told: list[Facts]) -> dict[str, Decimal]:
    adds_up(told)
    return {one["figure"]: D(one["amount"]) for one in told}


def steps_of(facts: Facts, name: str) -> list[tuple[str, Decimal]]:
    (one,) = [one for one in facts["figures"] if one["figure"] == name]
    return [(step["text"], D(step["amount"])) for step in one["steps"]]


def every_amount_is_explained(estimate: Estimate, client: Any) -> set[str]:
    found = amounts_found(client.get(f"/api/v1/estimates/{estimate.pk}/how/").json())
    names = set()
    for path, amount in printed(estimate_sheet(estimate.facts)):
        name = name_of(path, estimate.facts, estimate.facts["customer_taxes"], "payer:customer:net")
        assert found[name] == amount, path
        names.add(name)
    return names


def test_every_amount_on_an_estimate_with_ways_to_choose_has_its_how(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    estimate = an_estimate(shop, owner, order)
    names = every_amount_is_explained(estimate, client)
    ways = [way["id"] for way in estimate.facts["options"][0]["options"]]
    assert {f"option:{one}" for one in ways} | {"payer:customer:tax"} <= names
    assert Job.objects.filter(order=order).count() == 2 and not Invoice.objects.exists()


def test_another_shop_asks_in_vain(shop: Shop, owner: Staff, order: RepairOrder, other_shop: Shop, api: Any) -> None:
    set_rates(shop)
    estimate = an_estimate(shop, owner, order)
    assert api(member(other_shop, "office")).get(f"/api/v1/estimates/{estimate.pk}/how/").status_code == 404
