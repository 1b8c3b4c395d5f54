"""No note of any door keeps a card number; serial and part numbers are not looked at."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.serializers import (
    BaseSerializer,
    BooleanField,
    ChoiceField,
    DateField,
    DateTimeField,
    DecimalField,
    DictField,
    EmailField,
    FileField,
    IntegerField,
    ListField,
    UUIDField,
)

from orders.models import Customer, RepairOrder
from orders.services.fees import add_fee
from orders.services.jobs import change_job
from orders.services.options import add_option
from shopdocs import urls  # loads every door
from shopdocs.rest.refusals import Refused
from shopdocs.rest.serializers import CARD_NUMBER, IDENTIFIERS, Record, Strict, Text
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import CARD, season_service
from tests.orders.conftest import checked_in

assert urls.urlpatterns


def given(cls: type[Strict] = Strict) -> Iterator[type[Strict]]:
    """Every serializer for input in the house."""
    for found in cls.__subclasses__():
        yield found
        yield from given(found)


def leaves(name: str, field: Any) -> Iterator[tuple[str, Any]]:
    """The fields under a field that hold one value each; a serializer inside is looked at by itself."""
    child = getattr(field, "child", None)
    if isinstance(field, Record):
        yield name, field
    elif child is not None:
        yield from leaves(name, child)
    elif not isinstance(field, BaseSerializer):
        yield name, field


def fields_of(cls: type[Strict]) -> Iterator[tuple[str, Any]]:
    for name, field in cls().fields.items():
        yield from leaves(name, field)


LEAVES = sorted(
    {(cls.__name__, name): (cls, name, field) for cls in given() for name, field in fields_of(cls)}.values(),
    key=lambda row: (row[0].__name__, row[1]),
)
LOOKED_AT = [row for row in LEAVES if isinstance(row[2], (Text, Record)) and row[1] not in IDENTIFIERS]
NO_WORDS = (
    BooleanField, ChoiceField, DateField, DateTimeField, DecimalField, FileField, IntegerField, UUIDField, EmailField,
)  # fmt: skip
"""Kinds of field that take no words: a closed choice, a figure, a day, a file, an address that is checked as one."""

NUMBERS_OF_OTHER_KINDS = {
    # serial and part numbers, and what an engine's label and its controls are called
    "AssemblyChange.emission_family AssemblyChange.model_name AssemblyChange.serial AssemblyIn.emission_family "
    "AssemblyIn.model_name AssemblyIn.serial AssemblyReasonIn.emission_family AssemblyReasonIn.model_name "
    "AssemblyReasonIn.serial NewUnitIn.serial UnitChange.serial UnitIn.serial UnitModelIn.serial JobPartIn.number "
    "PartChange.number PartIn.number RebuildRecordIn.parts RebuildRecordIn.codes ImportIn.text "
    # of a statement that was made, looked for and not kept
    "AskedIn.number "
    # telephones, postcodes, accounts and certificates
    "ChoiceGivenIn.phone_number GivenIn.phone_number StaffAnswersIn.phone_number ToldIn.phone_number TakenBackIn.phone_number ShopIn.phone "
    "CustomerChange.phone CustomerIn.phone DistributorChange.phone DistributorIn.phone CustomerChange.postcode "
    "CustomerIn.postcode DistributorChange.postcode DistributorIn.postcode ShopIn.postcode DistributorChange.account "
    "DistributorIn.account CustomerChange.tax_certificate CustomerIn.tax_certificate "
    # numbers that a maker or distributor gave: campaigns, service plans, approvals
    "CampaignChange.number CampaignIn.code CampaignIn.number PlanChange.number PlanIn.code PlanIn.number "
    "CircumstancesIn.campaigns_done CircumstancesIn.plans ClaimFileIn.approval "
    # codes of the trade and of the shop's own guide, and keys of records
    "CheckIn.point FindingChange.component FindingChange.condition FindingChange.point FindingChange.signs "
    "FindingIn.component FindingIn.condition FindingIn.point FindingIn.signs JobLabourIn.code JobLabourIn.components "
    "LessWithIn.operation OperationChange.code OperationChange.components OperationChange.includes OperationChange.steps "
    "OperationIn.code OperationIn.components OperationIn.includes OperationIn.steps PartChange.component PartIn.component "
    "RepairElsewhere.components TaxRateIn.with_parts TaxRateCorrectionIn.with_parts WorkStepChange.needs WorkStepChange.undoes WorkStepIn.key "
    "WorkStepIn.needs WorkStepIn.undoes CreditLineIn.line LinkAnswersIn.estimate_sha256 "
    # whoever signs in, and with what
    "SignInIn.password SignInIn.username"
}  # fmt: skip
"""Every typed text of every door that is not looked at, by name: a new one is looked at until it is added here on purpose."""


def test_every_word_that_is_typed_is_looked_at_and_only_numbers_of_other_kinds_are_not() -> None:
    texts = {f"{cls.__name__}.{name}" for cls, name, field in LEAVES if isinstance(field, (Text, Record))}
    looked_at = {f"{cls.__name__}.{name}" for cls, name, _ in LOOKED_AT}
    assert len(looked_at) > 150
    assert texts - looked_at == {name for names in NUMBERS_OF_OTHER_KINDS for name in names.split()}
    strange = [
        f"{cls.__name__}.{name}" for cls, name, field in LEAVES if not isinstance(field, (*NO_WORDS, Text, Record))
    ]
    assert strange == [], "a field that takes words and looks at none: make it Text, Line or Record"
    assert {
        "PaymentIn.reference", "RefundIn.why", "RefundIn.reference", "WriteOffIn.reason", "CreditNoteIn.reason",
        "CustomerIn.note", "ClaimCreditIn.reference", "ClaimAnswerIn.reference", "ClaimCloseIn.note", "CheckInIn.complaint",
        "JobChange.cause", "JobChange.correction", "JobChange.title", "FinishIn.correction", "JobPartIn.words",
        "GivenIn.words", "PhotoIn.caption", "FindingIn.note", "GiveBackIn.given_to", "CheckInIn.accessories",
        "LinkAnswersIn.words", "SafetyNoteIn.kept", "MakerTermIn.term", "KnownDefectIn.pattern",
    } <= looked_at  # fmt: skip
    assert {name for _, name, field in LEAVES if isinstance(field, Text)} >= IDENTIFIERS, "a name that no door has"
    assert not IDENTIFIERS & {"note", "reason", "reference", "words", "why", "complaint", "cause", "correction"}


def sent(field: Any, text: str) -> Any:
    """The text as this field takes it: alone, in a list, or as a value of a record."""
    if isinstance(field, DictField):
        return {"first": {"deep": [text]}} if isinstance(field, Record) else {"labour": text}
    return [text] if isinstance(field, ListField) else text


@pytest.mark.parametrize(
    "cls, name", [row[:2] for row in LOOKED_AT], ids=[f"{cls.__name__}.{name}" for cls, name, _ in LOOKED_AT]
)
def test_a_card_number_in_a_note_is_refused(cls: type[Strict], name: str) -> None:
    only = type("Only", (cls,), {})
    only._declared_fields = {name: cls._declared_fields[name]}
    for text, refused in ((f"x {CARD}", True), (CARD.replace(" ", ""), True), (f"x {CARD[:-1]}8", False)):
        made = only(data={name: sent(cls._declared_fields[name], text)})
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
