"""The consent to electronic records, over HTTP: kept with its words, taken back at any time, and then it is paper."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from orders.models import AnswerLink, Customer, RepairOrder
from orders.services.bench import finish_job, fit_part
from orders.services.time import enter_time
from shopdocs.documents.models import Letter
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.api.test_answers import V1, by_link, fields, post, signature
from tests.orders.back_kit import PHONED, arrived_earlier, season_service, set_rates, sharpening, shown_by_link, span

pytestmark = pytest.mark.django_db
IN_PERSON = {"channel": "in_person", "said_by": "Imke Dorran", "words": "said so at the counter"}


@pytest.fixture
def path(shop: Shop, owner: Staff, order: RepairOrder) -> str:
    set_rates(shop)
    arrived_earlier(order)
    Customer.objects.update(email="imke@example.com")
    season_service(shop, owner, order)
    return f"orders/{order.pk}/consent/"


def test_what_was_never_given_is_not_taken_back(path: str, client: Any) -> None:
    told = client.get(f"{V1}/{path}").json()
    assert told == {"stands": False, "version": "", "words": "", "given_at": None, "taken_back_at": None}
    assert fields(client, path, IN_PERSON, 409) == ["consent"]


def test_after_it_was_taken_back_nothing_of_the_order_is_e_mailed_until_it_is_given_again(
    shop: Shop, owner: Staff, order: RepairOrder, path: str, client: Any, api: Any
) -> None:
    token = by_link(shop, owner, order)
    job = str(order.jobs.get().pk)
    given = {"said_by": "Imke Dorran", "answers": [{"job": job, "accepted": True}], **shown_by_link(token)}
    post(api(None), f"answer/{token}/", given)
    told = client.get(f"{V1}/{path}").json()
    assert told["stands"] and told["given_at"] and told["version"] == given["consent"]
    assert "take this back at any time" in told["words"]

    other = sharpening(shop, owner, RepairOrder.objects.get(pk=order.pk))
    waiting = by_link(shop, owner, RepairOrder.objects.get(pk=order.pk))
    phoned = {**PHONED, "said_by": "Imke Dorran"}
    assert fields(client, path, phoned, 400) == ["called_at"]
    assert fields(client, path, {**phoned, "said_by": owner.user.shown_name, "called_at": _now()}, 400) == ["said_by"]
    back = post(client, path, {**phoned, "called_at": _now()})
    assert not back["stands"] and back["taken_back_at"]
    assert Event.objects.get(verb="consent taken back").words == "Imke Dorran, phone 555-0133"
    assert fields(client, path, {**phoned, "called_at": _now()}, 409) == ["consent"]
    refused = api(None).get(f"{V1}/answer/{waiting}/")
    assert (refused.status_code, refused.json()["errors"][0]["field"]) == (409, "token")

    letters = Letter.objects.count()
    estimate = client.get(f"{V1}/orders/{order.pk}/estimates/").json()["results"][0]["id"]
    assert fields(client, f"estimates/{estimate}/send/", {}, 409) == ["consent"]
    post(
        client, f"estimates/{estimate}/answers/", {**IN_PERSON, "answers": [{"job": str(other.pk), "accepted": False}]}
    )
    fit_part(shop=shop, by=owner, part_id=order.jobs.get(number=1).parts.get().pk)
    enter_time(shop=shop, by=owner, job_id=order.jobs.get(number=1).pk, **span(5, 60))
    finish_job(shop=shop, by=owner, job_id=order.jobs.get(number=1).pk, correction="Done.")
    sharpening(shop, owner, order, title="Once more")
    fresh = post(client, f"orders/{order.pk}/estimates/", {}, 201)
    again = {
        "channel": "in_person", "said_by": "Imke Dorran", "signature": signature(client)["id"],
        "consent": fresh["facts"]["consent"]["version"],
        "answers": [{"job": fresh["facts"]["jobs"][0]["id"], "accepted": False}],
    }  # fmt: skip
    assert Letter.objects.count() == letters
    post(client, f"estimates/{fresh['id']}/answers/", again)
    assert client.get(f"{V1}/{path}").json()["stands"]
    post(client, f"orders/{order.pk}/finish/", {})
    invoice = post(client, f"orders/{order.pk}/invoices/", {}, 201)["id"]
    post(client, f"invoices/{invoice}/send/", {})
    post(client, path, {**IN_PERSON})
    assert fields(client, f"invoices/{invoice}/send/", {}, 409) == ["consent"]
    assert AnswerLink.objects.filter(used_at=None, expires_at__gt=timezone.now()).count() == 0


def _now() -> str:
    return timezone.now().isoformat()


def test_who_may_and_no_other_shop(path: str, api: Any, technician: Staff, other_shop: Shop) -> None:
    assert api(technician).get(f"{V1}/{path}").status_code == 200
    assert api(technician).post(f"{V1}/{path}", IN_PERSON, format="json").status_code == 403
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/{path}").status_code == 404
    assert stranger.post(f"{V1}/{path}", IN_PERSON, format="json").status_code == 404
