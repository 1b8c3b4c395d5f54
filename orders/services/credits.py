"""Credit notes: what was charged and is taken back, whole or by line, with its tax. Frozen, in a series of their own."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from orders.models import CreditNote, Invoice
from orders.papers import credit_note as paper
from orders.rules.credits import Taken, take_back
from shopdocs.documents.models import Document
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.words import words
from shopdocs.documents.services.letters import request_letter
from shopdocs.documents.services.papers import request_document
from shopdocs.money import plain, round_money
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event

from . import wording
from .amounts import currency_of, quantity
from .balances import Standing, standing, told
from .came_back import charged_in
from .card_numbers import refuse_card_numbers
from .credit_figures import credit_figures
from .credited_pieces import pieces_back
from .electronic import electronic_credit
from .frozen import trimmed
from .invoice_lines import Line, charged_lines, lines_of
from .priced import said
from .records import given_in_address, taken
from .sheets import added_words, electronic_form, frame, party, tax_lines, unit

Facts = dict[str, Any]


@transaction.atomic
def issue_credit_note(
    *,
    shop: Shop,
    by: Staff,
    invoice_id: UUID,
    reason: str,
    lines: list[dict[str, Any]] | None = None,
    again: bool = False,
) -> CreditNote:
    """Takes back all that is left of an invoice, or the `lines` (each `line`, its key, and `amount` unless all of it).

    `quantity` of a part line instead of an amount: so many pieces came back, and what hung on them goes with them.
    Tax goes back with its line. Conflict when it would be more than the invoice, less what was credited and written off
    before, or when the very same note is there (`again`: another one is meant).
    """
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    reason = reason.strip()
    if not reason:
        raise Refused("reason", "The reason is missing.", "Say in a line why this is taken back.")
    refuse_card_numbers(reason=reason)
    back, pieces = _wanted(invoice, lines)
    money = standing(invoice)
    _refuse_twice(invoice, back, again)
    most = money.total - money.credited - money.written_off
    if back.total > most:
        problem = f"{told(shop, back.total)} is more than is left of {invoice.number}: {told(shop, most)}."
        raise Conflict("lines", problem, "Take back less; what is written off or credited is not taken back again.")
    note = CreditNote(
        shop=shop, invoice=invoice, number=next_number(shop=shop, series="credit_note"), issued_on=shop.today(),
        total=back.total, by=by.user,
    )  # fmt: skip
    note.facts = facts_of(note, back, money, reason, pieces)
    note.facts["figures"] = credit_figures(note.facts, charged_lines(invoice), back, money, currency_of(shop))
    note.save(force_insert=True)
    note.document = request_credit_paper(note=note, by=by)
    note.save(update_fields=["document"])
    record_event(
        shop=shop, subject=invoice.subject, verb="credited", by=by,
        words=f"{note.number}: {told(shop, note.total)}, {reason}", facts={"credit_note": str(note.pk)},
    )  # fmt: skip
    return note


def _wanted(invoice: Invoice, lines: list[dict[str, Any]] | None) -> tuple[Taken, dict[str, Decimal]]:
    """What is asked for, as the rules take it back, and the pieces that came; refusals name the place in the request."""
    pieces: dict[str, Decimal] = {}
    charged = charged_lines(invoice)
    if lines is None:
        wanted: dict[str, Decimal | None] = {line.key: None for line in charged if line.left}
        if not wanted:
            raise Conflict("lines", f"All of {invoice.number} is taken back already.", "There is nothing left.")
    elif not lines:
        raise Refused("lines", "No line is named.", "Name at least one, or leave 'lines' out to take back all.")
    else:
        named = [str(one["line"]) for one in lines]
        if len(set(named)) < len(named):
            raise Refused("lines", "A line is named twice.", "Name each line once.")
        wanted = _named(invoice, lines, {line.key: line.credited for line in charged})
        pieces = {one["line"]: one["quantity"] for one in lines if one.get("quantity") is not None}
    keys = list(wanted)
    try:
        back = take_back(charged, wanted, currency_of(invoice.shop))
    except BadInput as bad:
        at = keys.index(bad.field) if bad.field in keys else 0
        raise Refused(problems=[Problem(f"lines[{at}]", bad.problem, bad.remedy)]) from bad
    if back.total <= 0:
        raise Refused("lines", "These lines take nothing back.", "Take back lines that were charged.")
    return back, pieces


def _named(invoice: Invoice, lines: list[dict[str, Any]], credited: dict[str, Decimal]) -> dict[str, Decimal | None]:
    """The named lines with their amounts, and after them those that pieces bring along."""
    wanted: dict[str, Decimal | None] = {}
    brought: dict[str, Decimal] = {}
    gone = dict(credited)
    for at, one in enumerate(lines):
        if one.get("quantity") is None:
            wanted[one["line"]] = one.get("amount")
            continue
        field = f"lines[{at}].quantity"
        if one.get("amount") is not None:
            raise Refused(field, "An amount and pieces are both given.", "Give one of the two.")
        parts = pieces_back(invoice, one["line"], quantity(one["quantity"], field), gone, field)
        for key, amount in parts.items():
            gone[key] = gone.get(key, Decimal(0)) + amount
        wanted[one["line"]] = parts.pop(one["line"], Decimal(0))
        for key, amount in parts.items():
            brought[key] = brought.get(key, Decimal(0)) + amount
    twice = set(brought) & set(wanted)
    if twice:
        problem = "A line is named that the returned pieces bring along."
        raise Refused("lines", problem, "Leave it out, or give amounts instead of pieces.")
    return {**wanted, **brought}


def _refuse_twice(invoice: Invoice, back: Taken, again: bool) -> None:
    same = list(back.lines)
    for note in () if again else invoice.credit_notes.all():
        if [(one["line"], Decimal(one["amount"])) for one in note.facts["lines"]] == same:
            raise taken(
                "again", f"{note.number} takes back the very same.", "If as much again is meant, send again: true.",
                recorded=str(note.pk),
            )  # fmt: skip


def facts_of(
    note: CreditNote, back: Taken, before: Standing, reason: str, pieces: dict[str, Decimal] | None = None
) -> Facts:
    """The frozen credit note: customer, machine and currency as the invoice has them. `pieces` came back, by line."""
    pieces = pieces or {}
    invoice, printed = note.invoice, note.invoice.facts
    say = words(printed["shop"]["language"])
    known = {line.key: line for line in lines_of(printed)}
    charged = {(tax["name"], tax["percent"]): tax for tax in printed["taxes"]}
    listed = []
    for key, amount in back.lines:
        line = known[key]
        whole = amount == line.amount == Decimal(line.frozen["amount"]) and line.quantity is not None
        named = added_words(line.frozen, say)
        what = f"{named}, {say('hours')}" if line.hours and whole else named
        count = pieces.get(key) or (_charged(line) if whole else None)
        listed.append(
            {
                "line": key,
                "job": line.job,
                "code": line.code,
                "what": what,
                "quantity": None if count is None else trimmed(count),
                "amount": said(amount),
                "pieces": plain(pieces[key]) if key in pieces else None,
            }
        )
    currency = currency_of(note.shop)
    set_off = round_money(min(max(before.open, Decimal(0)), back.total), currency)
    facts = {
        "format": 1,
        "number": note.number,
        "issued_on": note.issued_on.isoformat(),
        "code": f"{settings.PUBLIC_URL}/api/v1/credit-notes/{note.pk}/",
        "invoice": invoice.number,
        "invoice_on": invoice.issued_on.isoformat(),
        "reason": reason[:2000],
        **{name: printed[name] for name in ("shop", "money", "customer", "unit", "order")},
        "lines": listed,
        "net": said(back.net),
        "tax": said(back.total - back.net),
        "taxes": [{**charged[one.name], "base": said(one.base), "amount": said(one.amount)} for one in back.taxes],
        "exempt_by": printed.get("exempt_by", ""),
        "total": said(back.total),
        "how": [
            *({"text": one["what"], "amount": one["amount"]} for one in listed),
            *(
                {"text": one.name[0], "amount": said(one.amount)}
                for one in back.taxes
                if back.net == sum(part for _, part in back.lines)
            ),
        ],
        "set_off": said(set_off),
        "to_pay_back": said(back.total - set_off),
        "settled": wording.credit_settled(note.shop, invoice.number, set_off, back.total - set_off, say),
        "invoice_total": printed["total"],
        "left": said(round_money(before.total - before.credited - back.total, currency)),
    }
    if not note.shop.electronic_invoice:
        return facts
    lines = [(known[key], amount) for key, amount in back.lines]
    address = invoice.order.customer.address_lines()
    return {**facts, "electronic": electronic_credit(note.shop, facts, lines, address, say)}


def _charged(line: Line) -> Decimal | None:
    """The quantity that the line was charged for: what came back before the invoice is not of it."""
    return charged_in(line.frozen)[0] if line.frozen.get("returned") else line.quantity


def credit_sheet(facts: Facts) -> paper.CreditNoteSheet:
    """The credit note's sheet, out of its frozen facts alone."""
    return paper.CreditNoteSheet(
        **frame(facts, number=facts["number"], version=0, title="Credit note"),
        customer=party(facts["customer"]),
        unit=unit(facts["unit"]),
        invoice=facts["invoice"],
        invoice_on=dt.date.fromisoformat(facts["invoice_on"]),
        reason=facts["reason"],
        lines=tuple(
            paper.CreditLine(
                code=one["code"],
                what=one["what"],
                quantity=None if one["quantity"] is None else Decimal(one["quantity"]),
                amount=Decimal(one["amount"]),
            )
            for one in facts["lines"]
        ),
        net=Decimal(facts["net"]),
        taxes=tax_lines(facts["taxes"], facts["shop"]["language"], facts["exempt_by"], facts["net"]),
        total=Decimal(facts["total"]),
        settled=facts["settled"],
        invoice_total=Decimal(facts["invoice_total"]),
        left=Decimal(facts["left"]),
        electronic=electronic_form(facts),
    )


def request_credit_paper(*, note: CreditNote, by: Staff) -> Document:
    """Asks for the paper of a credit note."""
    return request_document(
        shop=note.shop,
        kind="credit_note",
        subject=note.subject,
        number=note.number,
        title=f"Credit note {note.number}",
        sheet=to_json(credit_sheet(note.facts)),
        by=by,
    )


@transaction.atomic
def send_credit_note(*, shop: Shop, by: Staff, note_id: UUID, email: str = "") -> CreditNote:
    """Sends the credit note with its paper to the customer, or to `email`."""
    note = given_in_address(CreditNote, shop=shop, pk=note_id, lock=True)
    customer = note.invoice.order.customer
    to_address = email or customer.email
    if not to_address:
        raise Refused("email", "The customer has no e-mail address.", "Send one, or print the credit note.")
    note.letter = request_letter(
        shop=shop,
        kind="credit_note",
        subject=note.subject,
        to_address=to_address,
        to_name=customer.name,
        heading=wording.credit_heading(shop, note.facts),
        body=wording.credit_letter(shop, note.facts),
        documents=[note.document] if note.document else [],
        by=by,
    )
    note.version += 1
    note.save(update_fields=["letter", "version", "updated_at"])
    record_event(
        shop=shop, subject=note.invoice.subject, verb="credit note sent", words=f"{note.number} to {to_address}", by=by
    )
    return note
