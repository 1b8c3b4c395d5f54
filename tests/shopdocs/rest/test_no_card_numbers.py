"""No note of any door keeps a card number; serial and part numbers are not looked at."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.serializers import ListField

from orders.api import urls as orders_urls  # loads every door of orders
from orders.models import Customer, RepairOrder
from orders.services.fees import add_fee
from orders.services.jobs import change_job
from orders.services.options import add_option
from shopdocs.rest.refusals import Refused
from shopdocs.rest.serializers import CARD_NUMBER, IDENTIFIERS, Strict, Text
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import CARD, season_service
from tests.orders.conftest import checked_in
from warranty.api import urls as warranty_urls  # and of warranty

assert orders_urls and warranty_urls


def given(cls: type[Strict] = Strict) -> Iterator[type[Strict]]:
    """Every serializer for input in the house."""
    for found in cls.__subclasses__():
        yield found
        yield from given(found)


def typed(field: Any) -> bool:
    """Whether people type words there: a text, or a list of them."""
    return isinstance(field.child if isinstance(field, ListField) else field, Text)


TYPED = sorted(
    {(cls, name) for cls in given() for name, field in cls._declared_fields.items() if typed(field)},
    key=lambda pair: (pair[0].__name__, pair[1]),
)
WORDS = [(cls, name) for cls, name in TYPED if name not in IDENTIFIERS]


def test_every_word_that_is_typed_is_looked_at_and_only_numbers_of_other_kinds_are_not() -> None:
    named = {f"{cls.__name__}.{name}" for cls, name in WORDS}
    assert {
        "PaymentIn.reference", "RefundIn.why", "RefundIn.reference", "WriteOffIn.reason", "CreditNoteIn.reason",
        "CustomerIn.note", "ClaimCreditIn.reference", "ClaimAnswerIn.reference", "ClaimCloseIn.note", "CheckInIn.complaint",
        "JobChange.cause", "JobChange.correction", "JobChange.title", "FinishIn.correction", "JobPartIn.words",
        "GivenIn.words", "PhotoIn.caption", "FindingIn.note", "GiveBackIn.given_to",
    } <= named  # fmt: skip
    others = {"password", "username", "with_parts"}  # at the doors of shops, which are not loaded here
    assert {name for _, name in TYPED} | others >= IDENTIFIERS, "a name that no door has"
    assert not IDENTIFIERS & {"note", "reason", "reference", "words", "why", "complaint", "cause", "correction"}


@pytest.mark.parametrize("cls, name", WORDS, ids=[f"{cls.__name__}.{name}" for cls, name in WORDS])
def test_a_card_number_in_a_note_is_refused(cls: type[Strict], name: str) -> None:
    only = type("Only", (cls,), {})
    only._declared_fields = {name: cls._declared_fields[name]}
    listed = isinstance(cls._declared_fields[name], ListField)
    for text, refused in ((f"x {CARD}", True), (CARD.replace(" ", ""), True), (f"x {CARD[:-1]}8", False)):
        made = only(data={name: [text] if listed else text})
        made.is_valid()
        assert (CARD_NUMBER in str(made.errors)) is refused, text


@pytest.fixture
def order(shop: Shop, owner: Staff) -> RepairOrder:
    return checked_in(shop, owner)


@pytest.mark.django_db
def test_words_that_go_with_money_hold_none(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = season_service(shop, owner, order)
    acts: list[tuple[str, Any]] = [
        ("words", lambda: add_fee(shop=shop, by=owner, job_id=job.pk, kind="fee", words=CARD, amount=Decimal("1"))),
        ("note", lambda: add_option(shop=shop, by=owner, order_id=order.pk, group="a", name="b", note=CARD)),
        (
            "discount_words",
            lambda: change_job(
                shop=shop, by=owner, job_id=job.pk, version=job.version,
                changes={"discount_words": CARD, "discount_percent": Decimal("1")},
            ),
        ),
    ]  # fmt: skip
    for field, act in acts:
        with pytest.raises(Refused) as refusal:
            act()
        assert refusal.value.problems[0].field == field


@pytest.mark.django_db
def test_over_http_and_serials_are_left_alone(api: Any, owner: Staff, order: RepairOrder) -> None:
    desk = api(owner)
    answer = desk.post("/api/v1/customers/", {"name": "Bo", "note": f"card {CARD}"}, format="json")
    assert answer.status_code == 400
    (problem,) = answer.json()["errors"]
    assert (problem["field"], problem["problem"]) == ("note", CARD_NUMBER) and "never kept" in problem["remedy"]
    assert not Customer.objects.filter(name="Bo").exists()
    number = CARD.replace(" ", "")
    order.unit.refresh_from_db()
    unit = {"version": order.unit.version, "serial": number}
    assert desk.patch(f"/api/v1/units/{order.unit_id}/", unit, format="json").status_code == 200
    part = {"number": number, "words": "Coil", "list_price": "1"}
    assert desk.post("/api/v1/parts/", part, format="json").status_code == 201
