"""What the code of a paper leads to: a page for whoever scans it with a telephone, JSON for programs."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pytest
from django.conf import settings

from orders.models import Customer, RepairOrder
from orders.services.estimates import issue_estimate
from orders.services.statements import request_statement
from shopdocs.shops.models import Shop, Staff
from tests.left_in_english import left_in_english
from tests.orders.back_kit import season_service, set_rates

pytestmark = pytest.mark.django_db
BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
WHERE = "/api/v1/{kind}/{pk}/"


@pytest.fixture
def codes(shop: Shop, owner: Staff, order: RepairOrder) -> dict[str, str]:
    """The address and the head of each paper."""
    Shop.objects.update(phone="555-0100", name="Willow & <b>Sons</b>")
    set_rates(shop)
    season_service(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    statement = request_statement(shop=shop, by=owner, customer=order.customer_id)
    return {
        statement.sheet["code"].removeprefix(settings.PUBLIC_URL): f"Statement {statement.number}",
        WHERE.format(kind="orders", pk=order.pk): f"Repair order {order.number}",
        WHERE.format(kind="estimates", pk=estimate.pk): f"Estimate {estimate.number}",
    }


def test_a_browser_without_a_sign_in_is_told_which_paper_it_is_and_nothing_else(
    codes: dict[str, str], order: RepairOrder, api: Any
) -> None:
    for address, head in codes.items():
        alone = api(None).get(address, headers={"Accept": "text/html"})  # takes nothing else, and has nothing else
        answer = api(None).get(address, headers=BROWSER)
        assert (alone.status_code, alone.content) == (401, answer.content)
        assert (answer.status_code, answer["Content-Type"]) == (401, "text/html; charset=utf-8")
        assert answer["Cache-Control"] == "no-store"
        text = answer.content.decode()
        for said in (f"<h1>{head}</h1>", "Willow &amp; &lt;b&gt;Sons&lt;/b&gt;", "555-0100", "signed in"):
            assert said in text, said
        for kept in (order.complaint, order.unit.serial, Customer.objects.get().name, "imke", str(order.pk)):
            assert kept not in text, kept


def test_the_page_speaks_the_language_of_the_browser_or_else_of_the_shop(codes: dict[str, str], api: Any) -> None:
    address = list(codes)[2]
    spanish = api(None).get(address, headers={**BROWSER, "Accept-Language": "es-MX,es;q=0.9"}).content.decode()
    assert "<h1>Presupuesto E-" in spanish and left_in_english(spanish.partition("<h1>")[2].replace("Sons", "")) == []
    Shop.objects.update(language="es", phone="")
    assert "consulte a Willow" in api(None).get(address, headers={**BROWSER, "Accept-Language": "fr"}).content.decode()
    assert "ask Willow" in api(None).get(address, headers={**BROWSER, "Accept-Language": "en-US"}).content.decode()


def test_an_address_without_a_record_says_only_that(codes: dict[str, str], api: Any) -> None:
    for kind in ("orders", "estimates", "invoices", "credit-notes", "claims", "parts-holds"):
        answer = api(None).get(WHERE.format(kind=kind, pk=UUID(int=7)), headers=BROWSER)
        assert answer.status_code == 401 and "No paper is known at this address." in answer.content.decode(), kind


def test_a_statement_of_no_such_number_is_no_paper(codes: dict[str, str], api: Any) -> None:
    address = next(iter(codes)).partition("?")[0]
    for asked in ("", "?number=ST-9", "?number="):
        assert "No paper is known" in api(None).get(f"{address}{asked}", headers=BROWSER).content.decode(), asked


def test_programs_and_the_shops_own_people_get_json_as_ever(codes: dict[str, str], owner: Staff, api: Any) -> None:
    for address in codes:
        for accepted in ({}, {"Accept": "application/json"}, {**BROWSER, "Authorization": "Token wrong"}):
            refused = api(None).get(address, headers=accepted)
            assert (refused.status_code, refused["Content-Type"]) == (401, "application/problem+json"), accepted
        mine = api(owner).get(address, headers=BROWSER)
        assert mine.status_code == 200 and mine["Content-Type"] == "application/json"
        assert api(None).patch(address, {}, headers=BROWSER)["Content-Type"] == "application/problem+json"
