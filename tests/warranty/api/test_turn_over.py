"""A refused claim, over HTTP: nothing moves to the customer but by a spoken act, and only as far as was chosen beforehand."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Customer, Estimate, Invoice, Job, JobPart, RefusalChoice
from orders.models.catalogue import PricingTerms
from orders.services.invoice_lines import lines_of
from shopdocs.documents.models import Document
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Staff
from tests.orders.back_kit import PHONED, set_rates
from tests.papers_reading import words_of
from tests.warranty.scene import Scene
from warranty.models import Claim, TurnOver

pytestmark = pytest.mark.django_db
V1 = "/api/v1"
D = Decimal
PHONE = {**PHONED, "said_by": "Wilma Orton"}


def post(client: Any, path: str, body: Any, code: int = 200) -> Any:
    answer = client.post(f"{V1}/{path}", body, format="json")
    assert answer.status_code == code, answer.content
    return answer.json()


def field(client: Any, path: str, body: Any, code: int) -> str:
    first: dict[str, str] = post(client, path, body, code)["errors"][0]
    assert first["problem"] and first["remedy"]
    return first["field"]


class Case:
    """The job accepted with a choice (or none), done, claimed; 191.10 before tax on the estimate, 196.25 with the customer's tax.

    1.5 h x 80.00 = 120.00, part 71.10; 7.25 % of 71.10 = 5.154..., 5.15. Asked of the distributor: 157.74.
    """

    def __init__(self, scene: Scene, finished_job: Job, client: Any, choice: dict[str, Any] | None) -> None:
        self.scene, self.client, self.job = scene, client, finished_job
        set_rates(scene.shop)
        scene.terms()
        Job.objects.filter(pk=finished_job.pk).update(state="proposed")
        estimate = post(client, f"orders/{scene.order.pk}/estimates/", {}, 201)
        answer = {"job": str(finished_job.pk), "accepted": True, **({"if_refused": choice} if choice else {})}
        said = {"channel": "in_person", "said_by": "Wilma Orton", "words": "signed on paper", "answers": [answer]}
        post(client, f"estimates/{estimate['id']}/answers/", said)
        Job.objects.filter(pk=finished_job.pk).update(state="done")
        self.claim = post(client, f"jobs/{finished_job.pk}/claim/", {}, 201)
        assert self.claim["expected"] == "157.74"

    @property
    def path(self) -> str:
        return f"claims/{self.claim['id']}/turn-over/"

    def body(self, to: str, **more: Any) -> dict[str, Any]:
        version = Claim.objects.get(pk=self.claim["id"]).version
        return {"version": version, "to": to, "reason": "refused as wear", **more}

    def answered(self, outcome: str, **amounts: str) -> None:
        version = Claim.objects.get(pk=self.claim["id"]).version
        body = {"version": version, "outcome": outcome, "answered_on": str(self.scene.today), **amounts}
        post(self.client, f"claims/{self.claim['id']}/answer/", body)

    def phones(self, choice: str, **more: Any) -> None:
        body = {**PHONE, "called_at": timezone.now().isoformat(), "choice": choice, **more}
        post(self.client, f"jobs/{self.job.pk}/refusal-choices/", body, 201)


@pytest.fixture
def client(api: Any, owner: Staff) -> Any:
    return api(owner)


def test_the_ground_is_told_in_the_customers_language(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    Customer.objects.update(language="es")
    case.answered("refused")
    post(client, case.path, case.body("customer"))
    invoice = Invoice.objects.get()
    (job,) = invoice.facts["jobs"]
    number = case.claim["number"]
    assert job["basis"].startswith(f"la reclamación {number} fue rechazada; Wilma Orton eligió el ")
    assert job["basis"].endswith(": pagar hasta $250.00")
    assert invoice.document is not None
    text = words_of(draw_sheet(invoice.shop, "invoice", invoice.document.sheet).pdf)
    assert "fue rechazada" in text and "was refused" not in text


@pytest.mark.parametrize(("most", "total"), [("250.00", "196.25"), ("195.00", "195.00")])
def test_a_certificate_that_expired_since_spares_no_tax_and_never_brings_it_above_what_was_chosen(
    scene: Scene, finished_job: Job, client: Any, most: str, total: str
) -> None:
    Customer.objects.update(tax_exempt=True, tax_certificate="EX-7", tax_exempt_until=scene.today)
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": most})
    Customer.objects.update(tax_exempt_until=scene.today - dt.timedelta(days=1))
    case.answered("refused")
    post(client, case.path, case.body("customer"))
    facts = Invoice.objects.get().facts
    assert facts["total"] == total and D(facts["tax"]) > 0 and facts["exempt_by"] == ""
    assert "EX-7 expired" in facts["taxes"][0]["why"]


def test_chosen_to_pay_up_to_an_amount(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    assert field(client, case.path, case.body("customer"), 409) == "request"  # not refused yet
    case.answered("more_asked")
    assert field(client, case.path, case.body("customer"), 409) == "request"
    case.answered("refused")
    assert not Invoice.objects.exists() and Job.objects.get(pk=finished_job.pk).payer == "warranty"
    assert field(client, case.path, case.body("customer", amount="250.01"), 400) == "amount"
    assert field(client, case.path, case.body("customer", amount="0"), 400) == "amount"
    assert field(client, case.path, case.body("customer", amount="1.001"), 400) == "amount"
    assert field(client, case.path, case.body("customer", reason=" "), 400) == "reason"
    assert field(client, case.path, {**case.body("customer"), "version": 1}, 409) == "version"
    assert field(client, case.path, case.body("nobody"), 400) == "to"
    done = post(client, case.path, case.body("customer"))
    assert (done["state"], done["turn_over"]["amount"], done["turn_over"]["invoice_total"]) == (
        "closed", "157.74", "196.25",
    )  # fmt: skip
    invoice = Invoice.objects.get()
    assert (invoice.job_id, invoice.total) == (finished_job.pk, D("196.25"))
    text = words_of(draw_sheet(scene.shop, "invoice", Document.objects.get(kind="invoice").sheet).pdf)
    for said in ("196.25", "chosen by Wilma Orton", "pay up to $250.00", "Replace the ignition module"):
        assert said in text, said
    # Whose job it was stays as it was recorded; nobody pays twice.
    assert Job.objects.get(pk=finished_job.pk).payer == "warranty"
    assert field(client, case.path, case.body("goodwill"), 409) == "request"
    assert field(client, f"jobs/{finished_job.pk}/claim/", {}, 409) == "job"


def test_what_only_the_customers_own_work_bears_is_not_charged(scene: Scene, finished_job: Job, client: Any) -> None:
    PricingTerms.objects.create(
        shop=scene.shop, starts_on=dt.date(2020, 1, 1), supplies_words="Shop supplies", supplies_percent=D(5),
        supplies_floor=D("25.00"), minimum_labour=D("300.00"),
    )  # fmt: skip
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "500.00"})
    assert not Estimate.objects.get().facts["jobs"][0]["extras"]
    case.answered("refused")
    post(client, case.path, case.body("customer"))
    invoice = Invoice.objects.get()
    assert (invoice.facts["net"], invoice.total) == ("191.10", D("196.25"))
    assert invoice.facts["jobs"][0]["extras"] == []


@pytest.mark.parametrize(
    ("up_to", "least"), [("100.00", "99.98"), ("196.25", "196.25"), ("196.24", "196.23"), ("0.50", "0.49")]
)
def test_never_a_cent_above_what_was_chosen(
    scene: Scene, finished_job: Job, client: Any, up_to: str, least: str
) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": up_to})
    case.answered("refused")
    post(client, case.path, case.body("customer"))
    assert D(least) <= Invoice.objects.get().total <= D(up_to)


def test_the_shop_may_ask_for_less(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    case.answered("refused")
    post(client, case.path, case.body("customer", amount="40.00"))
    assert D("39.98") <= Invoice.objects.get().total <= D("40.00")


def test_chosen_to_be_asked(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "ask_me"})
    case.answered("refused")
    assert field(client, case.path, case.body("customer"), 409) == "to"
    case.phones("ask_me")
    assert field(client, case.path, case.body("customer"), 409) == "to"
    case.phones("pay_up_to", up_to="50.00")
    assert field(client, case.path, case.body("customer", amount="50.01"), 400) == "amount"
    post(client, case.path, case.body("customer"))
    assert D("49.98") <= Invoice.objects.get().total <= D("50.00")


def test_chosen_to_have_it_back_unrepaired(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "return_unrepaired"})
    case.answered("refused")
    assert field(client, case.path, case.body("customer"), 409) == "to"
    case.phones("pay_up_to", up_to="250.00")  # what was chosen beforehand counts
    assert field(client, case.path, case.body("customer"), 409) == "to"
    assert field(client, case.path, case.body("goodwill", amount="5.00"), 400) == "amount"
    done = post(client, case.path, case.body("goodwill"))
    assert (done["state"], done["turn_over"]["to"], done["turn_over"]["amount"]) == ("closed", "goodwill", "157.74")
    assert done["turn_over"]["invoice"] is None and not Invoice.objects.exists()


def test_without_a_choice_nothing_ever_moves_to_the_customer(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, None)
    case.answered("refused")
    assert field(client, case.path, case.body("customer"), 409) == "to"
    case.phones("pay_up_to", up_to="250.00")
    assert field(client, case.path, case.body("customer"), 409) == "to"
    assert not TurnOver.objects.exists() and not Invoice.objects.exists()
    assert post(client, case.path, case.body("goodwill"))["turn_over"]["to"] == "goodwill"


def test_what_was_chosen_after_the_day_of_the_refusal_was_not_chosen_beforehand(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    case = Case(scene, finished_job, client, None)
    Claim.objects.update(filed_on=scene.today - dt.timedelta(days=3))
    case.phones("pay_up_to", up_to="250.00")  # before the refusal of yesterday is written down
    case.answered("refused", answered_on=str(scene.today - dt.timedelta(days=1)))
    assert field(client, case.path, case.body("customer"), 409) == "to"
    assert not Invoice.objects.exists()


def test_who_asked_to_be_asked_may_answer_before_the_refusal_is_written_down(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    case = Case(scene, finished_job, client, {"choice": "ask_me"})
    yesterday = scene.today - dt.timedelta(days=1)
    RefusalChoice.objects.update(at=timezone.now() - dt.timedelta(days=2))
    Claim.objects.update(filed_on=scene.today - dt.timedelta(days=3))
    case.phones("pay_up_to", up_to="50.00")
    case.answered("refused", answered_on=str(yesterday))
    post(client, case.path, case.body("customer"))
    assert D("49.98") <= Invoice.objects.get().total <= D("50.00")


@pytest.mark.parametrize("again", [None, {"choice": "pay_up_to", "up_to": "60.00"}])
def test_a_newer_version_that_was_accepted_leaves_no_older_choice_standing(
    scene: Scene, finished_job: Job, client: Any, again: dict[str, str] | None
) -> None:
    """Its words say that nothing is charged to who chooses nothing."""
    set_rates(scene.shop)
    scene.terms()
    for title, choice in (("First", {"choice": "pay_up_to", "up_to": "250.00"}), ("Then", again)):
        Job.objects.filter(pk=finished_job.pk).update(state="proposed", title=title)
        estimate = post(client, f"orders/{scene.order.pk}/estimates/", {}, 201)
        answer = {"job": str(finished_job.pk), "accepted": True, **({"if_refused": choice} if choice else {})}
        said = {"channel": "in_person", "said_by": "Wilma Orton", "words": "signed on paper", "answers": [answer]}
        post(client, f"estimates/{estimate['id']}/answers/", said)
    Job.objects.filter(pk=finished_job.pk).update(state="done")
    claim = post(client, f"jobs/{finished_job.pk}/claim/", {}, 201)
    refused = {"version": Claim.objects.get().version, "outcome": "refused", "answered_on": str(scene.today)}
    post(client, f"claims/{claim['id']}/answer/", refused)
    body = {"version": Claim.objects.get().version, "to": "customer", "reason": "refused as wear"}
    if again is None:
        assert field(client, f"claims/{claim['id']}/turn-over/", body, 409) == "to"
        assert not Invoice.objects.exists()
    else:
        post(client, f"claims/{claim['id']}/turn-over/", body)
        assert D("59.98") <= Invoice.objects.get().total <= D("60.00")


def test_what_was_approved_in_part_comes_off_first_and_may_still_be_credited(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    case.answered("in_part", labour_approved="60.00", parts_approved="63.99")
    done = post(client, case.path, case.body("customer"))
    assert (done["state"], done["owed"], done["turn_over"]["amount"]) == ("answered", "123.99", "33.75")
    invoice = Invoice.objects.get()
    assert invoice.facts["net"] == "67.11"  # 191.10 - 123.99
    assert D("67.11") < invoice.total < D("72.27")
    version = done["version"]
    body = {"version": version, "outcome": "in_full", "answered_on": str(scene.today)}
    assert field(client, f"claims/{case.claim['id']}/answer/", body, 409) == "request"
    money = {"version": version, "amount": "123.99", "received_on": str(scene.today)}
    assert post(client, f"claims/{case.claim['id']}/credits/", money)["state"] == "settled"


def test_what_came_before_the_refusal_is_not_asked_of_the_customer(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    path, money = f"claims/{case.claim['id']}/credits/", {"amount": "20.00", "received_on": str(scene.today)}
    post(client, path, {**money, "version": Claim.objects.get().version})
    case.answered("refused")
    done = post(client, case.path, case.body("customer"))
    assert (done["state"], done["turn_over"]["amount"]) == ("closed", "137.74")
    assert Invoice.objects.get().facts["net"] == "171.10"  # 191.10 - 20.00
    owed = client.get(f"{V1}/receivables/", {"kind": "distributor"}).json()
    assert (owed["held"], owed["total"]) == ("0.00", "0.00")
    late = {**money, "version": Claim.objects.get().version}
    (refused,) = post(client, path, late, 409)["errors"]
    assert "asked of the customer" in refused["problem"] and "credit note" in refused["remedy"]


@pytest.mark.parametrize("charge", ["core_charge", "environment_charge"])
@pytest.mark.parametrize("up_to", ["150.00", "50.00", "1.00"])
def test_a_core_or_environment_charge_stays_within_what_was_chosen_too(
    scene: Scene, finished_job: Job, client: Any, charge: str, up_to: str
) -> None:
    JobPart.objects.filter(job=finished_job).update(**{charge: D("100.00")})
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": up_to})
    case.answered("refused")
    post(client, case.path, case.body("customer"))
    invoice = Invoice.objects.get()
    assert D(up_to) - D("0.02") <= invoice.total <= D(up_to)
    assert sum(D(line.amount) for line in lines_of(invoice.facts)) == D(invoice.facts["net"])


def test_a_warranty_that_paid_more_than_the_job_leaves_the_customer_nothing_to_pay(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    """Labour approved in full, more for parts than they were charged at (191.10 in all), yet told as in part."""
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    case.answered("in_part", labour_approved="150.00", parts_approved="63.99")
    (refused,) = post(client, case.path, case.body("customer"), 409)["errors"]
    assert "Nothing of job 1 is left" in refused["problem"]


def test_a_claim_paid_in_full_is_not_turned_over(scene: Scene, finished_job: Job, client: Any) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    case.answered("in_full")
    for to in ("customer", "goodwill"):
        assert field(client, case.path, case.body(to), 409) == "request"


def test_only_the_desk_turns_over_and_only_in_its_shop(
    scene: Scene, finished_job: Job, client: Any, api: Any, technician: Staff, writer: Staff, other_shop: Any
) -> None:
    case = Case(scene, finished_job, client, {"choice": "pay_up_to", "up_to": "250.00"})
    case.answered("refused")
    for staff in (technician, writer):
        assert api(staff).post(f"{V1}/{case.path}", case.body("customer"), format="json").status_code == 403
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.post(f"{V1}/{case.path}", case.body("customer"), format="json").status_code == 404
    assert not Invoice.objects.exists()
