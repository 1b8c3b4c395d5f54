"""Statements of a customer or distributor over a period: as figures, as a paper, by letter."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.db import transaction

from orders.models import Customer, Distributor
from orders.papers import statement as paper
from orders.rules.receivables import Account, Item, account
from orders.rules.statement_figures import statement_figures
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.words import words
from shopdocs.documents.services.letters import request_letter
from shopdocs.documents.services.papers import request_document
from shopdocs.money import round_money
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event

from . import frozen, wording
from .amounts import currency_of
from .receivables import Owed, Payer, owed, payer_of
from .records import given_in_address
from .sheets import frame, party

KIND = "statement"
LONGEST_YEARS = 10


@dataclass(frozen=True)
class Statement:
    """One payer's account over a period, in a language, with what is owed and not known in amount."""

    record: Customer | Distributor
    payer: Payer
    account: Account
    open: tuple[Owed, ...]
    unknown: tuple[Owed, ...]
    language: str
    items: tuple[Item, ...]
    """All that was ever asked of the payer, which the account was made from."""


def statement_of(
    *,
    shop: Shop,
    customer: UUID | None = None,
    distributor: UUID | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
) -> Statement:
    """The account of a customer or distributor, from the first of this month to today unless said."""
    record: Customer | Distributor
    if customer is not None:
        record = given_in_address(Customer, shop=shop, pk=customer)
    else:
        assert distributor is not None, "a statement is somebody's"
        record = given_in_address(Distributor, shop=shop, pk=distributor)
    last = until or shop.today()
    first = since or min(shop.today().replace(day=1), last)
    if last > shop.today():
        raise Refused("until", f"{last} lies in the future.", "Give today at the latest.")
    if last.year - first.year > LONGEST_YEARS:
        raise Refused("since", f"This is more than {LONGEST_YEARS} years.", "Ask for less at once.")
    payer = payer_of(record)
    language = wording.paper_language(shop, record)
    rows = owed(shop, payer.key, words(language))
    try:
        found = account([one.item for one in rows], first, last)
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad
    still = {item.number for item in found.items}
    return Statement(
        record,
        payer,
        found,
        tuple(one for one in rows if one.item.number in still and one.item.open_on(last)),
        tuple(one for one in rows if not one.known and one.item.issued <= last),
        language,
        tuple(one.item for one in rows),
    )


def statement_explained(made: Statement) -> list[dict[str, Any]]:
    """How every figure of the statement came about."""
    return statement_figures(made.items, made.account, currency_of(made.record.shop))


def statement_sheet(made: Statement, number: str) -> paper.StatementSheet:
    """The statement's sheet, with every sum made."""
    shop, found = made.record.shop, made.account
    say = words(made.language)
    currency = currency_of(shop)

    def cents(amount: Decimal) -> Decimal:
        return round_money(amount, currency)

    facts = {
        "shop": frozen.shop_facts(shop, made.language),
        "money": frozen.money_facts(shop),
        "issued_on": shop.today().isoformat(),
        "code": f"{settings.PUBLIC_URL}{address(made)}?{urlencode({'number': number})}",
    }
    unknown = ", ".join(one.item.number for one in made.unknown)
    not_known = say("What these come to is not known yet, and is not counted: {numbers}.").format(numbers=unknown)
    return paper.StatementSheet(
        **frame(facts, number=number, version=0, title="Statement"),
        customer=party(_party_facts(made.record)),
        since=found.since,
        until=found.until,
        carried=cents(found.carried),
        entries=tuple(
            paper.Entry(
                on=line.on,
                what=line.title,
                note=line.words,
                asked=None if line.asked is None else cents(line.asked),
                received=None if line.received is None else cents(line.received),
                balance=cents(line.balance),
            )
            for line in found.lines
        ),
        asked=cents(found.asked),
        received=cents(found.received),
        items=tuple(
            paper.OpenItem(
                number=item.number,
                due_on=item.due,
                days_over=max((found.until - item.due).days, 0) if item.open_on(found.until) > 0 else 0,
                open=cents(item.open_on(found.until)),
            )
            for item in found.items
        ),
        open=cents(found.open),
        overdue=cents(found.overdue),
        held=cents(found.held),
        pay_how=say("Please name the number when you pay."),
        not_known=not_known if unknown else "",
    )


def address(made: Statement) -> str:
    """Where the payer's statements are served; with a `number`, for the period of that paper."""
    return f"/api/v1/{made.payer.kind}s/{made.payer.id}/statement/"


def _party_facts(record: Customer | Distributor) -> dict[str, object]:
    if isinstance(record, Customer):
        return frozen.customer_facts(record)
    return {"name": record.name, "lines": [*record.address_lines(), *(one for one in (record.phone,) if one)]}


def paper_of(shop: Shop, payer: str, number: str) -> Document:
    """The paper of the payer's statement with this number; Refused where there is none."""
    found: Document | None = Document.objects.for_shop(shop).filter(kind=KIND, subject=payer, number=number).first()
    if found is None:
        raise Refused("number", f"No statement {number} of this payer.", "Give its number as it stands on the paper.")
    return found


@transaction.atomic
def request_statement(
    *,
    shop: Shop,
    by: Staff,
    customer: UUID | None = None,
    distributor: UUID | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
) -> Document:
    """Asks for the paper of a statement, frozen as the books are now."""
    return _paper(statement_of(shop=shop, customer=customer, distributor=distributor, since=since, until=until), by)


def _paper(made: Statement, by: Staff) -> Document:
    shop = made.record.shop
    number = next_number(shop=shop, series="statement")
    return request_document(
        shop=shop,
        kind=KIND,
        subject=made.payer.key,
        number=number,
        title=f"Statement {number}",
        sheet=to_json(statement_sheet(made, number)),
        by=by,
    )


@transaction.atomic
def send_statement(
    *,
    shop: Shop,
    by: Staff,
    customer: UUID | None = None,
    distributor: UUID | None = None,
    since: dt.date | None = None,
    until: dt.date | None = None,
    email: str = "",
) -> Letter:
    """Sends a statement with its paper to the customer or distributor, or to `email`."""
    made = statement_of(shop=shop, customer=customer, distributor=distributor, since=since, until=until)
    to_address = email or made.record.email
    if not to_address:
        raise Refused("email", f"{made.payer.name} has no e-mail address.", "Send one, or print the statement.")
    document = _paper(made, by)
    letter = request_letter(
        shop=shop,
        kind="statement",
        subject=made.payer.key,
        to_address=to_address,
        to_name=made.record.name,
        heading=wording.statement_heading(shop, document.number, made.language),
        body=wording.statement_letter(shop, made.record.name, made.account, document.number, made.language),
        documents=[document],
        by=by,
    )
    record_event(
        shop=shop, subject=made.payer.key, verb="statement sent", words=f"{document.number} to {to_address}", by=by
    )
    return letter
