"""Every money figure of a credit note, with how it came about, done again in fractions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import CreditNote, Invoice, RepairOrder
from orders.services.credits import issue_credit_note
from orders.services.invoice_lines import lines_of
from orders.services.payments import record_payment
from shopdocs.shops.models import Shop, Staff
from tests.orders.services.test_explained import a_rich_invoice
from tests.sums import done_again

pytestmark = pytest.mark.django_db
D = Decimal
Facts = dict[str, Any]


def figures_of(note: CreditNote, client: Any) -> dict[str, Decimal]:
    """The figures that the door tells, done again; each amount of the facts is found among them, in the shop's decimals."""
    told = client.get(f"/api/v1/credit-notes/{note.pk}/how/").json()
    assert told == note.facts["figures"]
    found = done_again(told, note.shop.currency_decimals)
    facts, seen = note.facts, 0
    amounts = {name: facts[name] for name in ("net", "tax", "total", "set_off", "to_pay_back", "invoice_total", "left")}
    amounts |= {f"line:{one['line']}": one["amount"] for one in facts["lines"]}
    for tax in facts["taxes"]:
        amounts |= {
            f"{what}:{tax['name']}:{tax['percent']}": tax[where]
            for what, where in (("base", "base"), ("tax", "amount"))
        }
    for name, amount in amounts.items():
        assert found[name] == D(amount), name
        assert len(amount.partition(".")[2]) == note.shop.currency_decimals, (name, amount)
        seen += 1
    assert seen >= 9
    return found


@pytest.mark.parametrize("terms", [{}, {"tax_inclusive": True}])
def test_every_figure_of_every_note_until_nothing_is_left(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, terms: Facts
) -> None:
    invoice = a_rich_invoice(shop, owner, order, **terms)
    coil = next(line for line in lines_of(invoice.facts) if line.words == "Coil")
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("100"), means="cash")
    wanted = [[{"line": coil.key, "amount": D("3.330")}], [{"line": coil.key, "amount": D("0.250")}], None]
    for at, lines in enumerate(wanted):
        note = issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=lines, again=at == 1)
        found = figures_of(note, client)
        tax = next(one for one in note.facts["figures"] if one["figure"] == f"tax:State tax:5.75:line:{coil.key}")
        assert len(tax["steps"]) == (2 if at else 1) and "÷" in tax["steps"][0]["working"]
    assert (
        found["left"]
        == 0
        == Invoice.objects.get(pk=invoice.pk).total - sum(one.total for one in CreditNote.objects.all())
    )
    assert found["to_pay_back"] > 0 and found["set_off"] > 0


def test_an_older_note_has_no_list_and_is_no_error(shop: Shop, owner: Staff, order: RepairOrder, client: Any) -> None:
    invoice = a_rich_invoice(shop, owner, order)
    note = issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="x")
    del note.facts["figures"]
    note.save(update_fields=["facts"])
    assert client.get(f"/api/v1/credit-notes/{note.pk}/how/").json() == []
