"""Work beyond what was agreed: stopped by the law of the shop's state and by the shop's own rule, whichever is tighter."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Estimate, Invoice, Job, RepairOrder, Unit
from orders.rules import strict
from orders.rules.authorisation import Allowance, all_laws
from orders.rules.legal_fields import parse_papers, wanted_by
from orders.services.authorised import compare, shown
from orders.services.bench import finish_job, fit_part
from orders.services.binding_laws import laws_of
from orders.services.charges import set_terms
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job, change_job, set_payer_basis
from orders.services.lines import add_part
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import agreed, arrived_earlier, done, season_service, set_rates

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """82.70 for the customer, agreed; ten percent more is 90.97."""
    set_rates(shop)
    arrived_earlier(order)
    made = season_service(shop, owner, order)
    agreed(shop, owner, order)
    return made


def own_rule(shop: Shop, percent: str) -> None:
    shop.own_overrun_percent = D(percent)
    shop.save()


def agreed_under(shop: Shop, by: Staff, order: RepairOrder, percent: str) -> None:
    """A version of the estimate that says what may be asked without a new answer, accepted."""
    own_rule(shop, percent)
    agreed(shop, by, RepairOrder.objects.get(pk=order.pk))


def one_more_part(shop: Shop, by: Staff, job: Job, price: str) -> Job:
    add_part(shop=shop, by=by, job_id=job.pk, words="Fuel filter", unit_price=D(price))
    return Job.objects.select_related("order__shop", "order__customer", "order__unit").get(pk=job.pk)


def test_without_an_own_rule_every_change_asks_again(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    assert one_more_part(shop, owner, job, "0.01").state == "proposed"
    with pytest.raises(Conflict) as conflict:
        finish_job(shop=shop, by=owner, job_id=job.pk, correction="done")
    assert "more parts: Fuel filter" in conflict.value.problems[0].problem
    assert "new authorisation" in conflict.value.problems[0].remedy
    comparison = conflict.value.extra["authorisation"]
    assert [law["law"] for law in comparison["laws"]] == ["ohio_all_repairs"]
    assert "OAC 109:4-3-05" in comparison["laws"][0]["source"]
    assert comparison["authorised"]["total"] == "82.70" and comparison["now"]["total"] == "82.71"
    assert len(comparison["steps"]) == 3
    with pytest.raises(Conflict, match="beyond what the customer agreed to") as ending:
        finish_order(shop=shop, by=owner, order_id=order.pk)
    assert ending.value.extra["authorisation"]["allowed"] is False


@pytest.mark.parametrize(
    ("percent", "price", "state", "by_law"),
    [
        ("10", "7.71", "agreed", False),  # 82.25 + 7.71 + tax of 13.96 (1.01) = 90.97, to the cent
        ("10", "7.72", "proposed", True),  # 90.98
        ("5", "3.85", "agreed", False),  # 86.83
        ("5", "3.86", "proposed", False),
        ("50", "7.72", "proposed", True),  # a looser own rule does not loosen the law
    ],
)
def test_the_tighter_of_law_and_own_rule_decides(
    shop: Shop, owner: Staff, job: Job, percent: str, price: str, state: str, by_law: bool
) -> None:
    agreed_under(shop, owner, job.order, percent)
    changed = one_more_part(shop, owner, job, price)
    assert changed.state == state
    if state == "proposed" and percent != "10":
        assert ("OAC" in compare(changed.order).verdict.decided_by) is by_law


@pytest.mark.parametrize(
    ("percent", "extra", "state", "said"),
    [
        ("10", "10.00", "agreed", "for $100.00 before tax. Up to $110.00 may be asked of me without a new answer, and not more."),
        ("10", "10.01", "proposed", "Up to $110.00"),
        ("10", "100.00", "proposed", "Up to $110.00"),  # ten percent of both jobs, and all of it on one
        ("50", "10.01", "proposed", "Up to $110.00"),  # no more is said than the law allows
        ("0", "0.01", "proposed", "for $100.00 before tax, and not for more."),
    ],
)  # fmt: skip
def test_what_is_said_of_a_job_is_held_for_the_job(
    shop: Shop, owner: Staff, order: RepairOrder, percent: str, extra: str, state: str, said: str
) -> None:
    own_rule(shop, percent)
    for title, price in (("Belt", "100.00"), ("Engine", "900.00")):
        add_job(
            shop=shop, by=owner, order_id=order.pk, title=title, parts=[{"words": title, "unit_price": D(price)}], labour=[]
        )  # fmt: skip
    facts = agreed(shop, owner, order).facts
    one = Job.objects.get(number=1)
    assert said in facts["jobs"][0]["agree"]["accept"] and said in one.answers.get().agreed_words
    assert (("10 % more of each job" in facts["agreement"]), ("not for more" in facts["agreement"])) == (
        percent != "0", percent == "0",
    )  # fmt: skip
    changed = one_more_part(shop, owner, one, extra)
    assert changed.state == state
    told = shown(compare(changed.order))
    assert told["own_rule"].endswith("% over the estimate, of the order and of each job")
    now = D(100) + D(extra)
    most = "100.00" if percent == "0" else "110.00"
    assert told["changed"] == [
        {"job": 1, "what": "more parts: Fuel filter", "agreed": "100.00", "now": f"{now:f}", "most": most}
    ]
    assert f"what was said of job 1: ${now:f} asked, ${most} allowed where $100.00 was agreed, before tax" in [
        step["text"] for step in told["steps"]
    ]
    if percent == "10" and state == "proposed":
        assert told["decided_by"] == "what was said of job 1" and "what was said of job 1" in told["remedy"]


@pytest.mark.parametrize(
    ("region", "percent", "prices", "most"),
    [
        ("MN", "20", ["80.00"], "96.00"),  # 96.00 is no repair for more than $100
        ("MN", "20", ["83.33"], "99.99"),
        ("MN", "20", ["83.34"], "100.00"),  # 100.008, and a fraction of a cent is not charged
        ("MN", "20", ["83.35"], "91.68"),
        ("MN", "20", ["60.00", "60.00"], "66.00"),  # together they are
        ("MN", "20", ["7500.00"], "9000.00"),
        ("MN", "20", ["7499.99"], "8249.98"),
        ("MN", "20", ["7500.00", "90.00"], "8250.00"),  # one of them alone is
        ("OH", "20", ["20.00"], "24.00"),
        ("OH", "25", ["20.00"], "25.00"),
        ("OH", "26", ["20.00"], "22.00"),
        ("DC", "20", ["0.50"], "0.50"),
    ],
)
def test_a_law_lessens_what_is_said_of_a_job_only_where_it_speaks_of_such_prices(
    shop: Shop, owner: Staff, order: RepairOrder, region: str, percent: str, prices: list[str], most: str
) -> None:
    """Minn. Stat. 325F.56 subd. 2: more than $100 and less than $7,500. OAC 109:4-3-05: more than $25."""
    own_rule(shop, percent)
    Shop.objects.update(region=region)
    for price in prices:
        parts = [{"words": "Belt", "unit_price": D(price)}]
        add_job(shop=shop, by=owner, order_id=order.pk, title="Belt", parts=parts, labour=[])
    facts = issue_estimate(shop=Shop.objects.get(), by=owner, order_id=order.pk).facts
    assert facts["jobs"][0]["customer_most"] == most


def test_beside_work_that_is_done_a_law_counts_whatever_the_rest_comes_to(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    own_rule(shop, "20")
    Shop.objects.update(region="MN")
    arrived_earlier(order)
    for price in ("80.00", "50.00"):
        parts = [{"words": "Belt", "unit_price": D(price)}]
        made = add_job(shop=shop, by=owner, order_id=order.pk, title="Belt", parts=parts, labour=[])
        facts = agreed(Shop.objects.get(), owner, RepairOrder.objects.get(pk=order.pk)).facts
        if price == "80.00":
            done(shop, owner, Job.objects.get(pk=made.pk))
    assert facts["jobs"][0]["customer_most"] == "55.00"


def test_a_rule_made_looser_afterwards_leaves_what_was_said(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    own_rule(shop, "10")
    assert one_more_part(shop, owner, job, "0.01").state == "proposed"
    assert compare(RepairOrder.objects.get(pk=order.pk)).verdict.decided_by == "what was said of job 1"


def test_prices_that_hold_their_tax_are_agreed_to_with_it(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_terms(shop=shop, by=owner, starts_on=shop.today(), tax_inclusive=True)
    set_rates(shop)
    season_service(shop, owner, order)
    (job,) = agreed(shop, owner, order).facts["jobs"]
    assert "for $82.25 tax included, and not for more" in job["agree"]["accept"]


def test_what_may_be_charged_is_charged_at_todays_lines(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    agreed_under(shop, owner, order, "10")
    one_more_part(shop, owner, job, "7.00")
    done(shop, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=shop, by=owner, order_id=order.pk)
    invoice = issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert invoice.total == D("90.21")  # 82.25 + 7.00 + 7.25 % of 13.25
    assert [part["words"] for part in invoice.facts["jobs"][0]["parts"]] == ["Spark plug", "Fuel filter"]


def test_a_rule_made_stricter_afterwards_stops_the_bill(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    agreed_under(shop, owner, order, "10")
    one_more_part(shop, owner, job, "7.00")
    done(shop, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=shop, by=owner, order_id=order.pk)
    own_rule(shop, "1")
    with pytest.raises(Conflict, match="beyond"):
        issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert not Invoice.objects.exists()


def test_a_crews_machine_falls_under_the_own_rule_alone(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    Customer.objects.update(kind="crew")
    agreed_under(shop, owner, order, "50")
    assert one_more_part(shop, owner, job, "20").state == "agreed"
    order = RepairOrder.objects.get(pk=order.pk)
    assert laws_of(order) == ()
    assert shown(compare(order))["decided_by"] == "the shop's own rule"


@pytest.mark.parametrize(
    ("region", "kind", "use", "keys"),
    [
        ("OH", "household", "residential", ["ohio_all_repairs"]),
        ("OH", "household", "", ["ohio_all_repairs"]),
        ("OH", "household", "commercial", []),
        ("Ohio", "household", "residential", ["ohio_all_repairs"]),
        (" oh ", "household", "residential", ["ohio_all_repairs"]),
        ("US-OH", "household", "residential", ["ohio_all_repairs"]),
        ("OH", "rental_yard", "residential", []),
        ("MN", "household", "residential", ["minnesota"]),
        ("DC", "household", "residential", ["district_of_columbia"]),
        ("CA", "household", "residential", []),  # electronics only
        ("FL", "household", "residential", []),  # vehicles only
    ],
)
def test_which_laws_bind(shop: Shop, order: RepairOrder, region: str, kind: str, use: str, keys: list[str]) -> None:
    Shop.objects.update(region=region)
    Customer.objects.update(kind=kind)
    Unit.objects.update(use_class=use)
    assert [law.key for law in laws_of(RepairOrder.objects.get(pk=order.pk))] == keys


@pytest.mark.parametrize(("region", "on_request"), [("MN", True), ("OH", False)])
def test_a_law_that_binds_on_request_is_applied_as_if_asked_and_says_so(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, region: str, on_request: bool
) -> None:
    own_rule(shop, "90")
    Shop.objects.update(region=region)
    one_more_part(shop, owner, job, "40.00")
    told = shown(compare(RepairOrder.objects.get(pk=order.pk)))
    assert not told["allowed"] and "shop's own rule" not in told["decided_by"]
    assert ("applied as if they had" in told["laws"][0]["note"]) is on_request
    assert ("authorised before it was made" in told["laws"][0]["note"]) is (region == "MN")


@pytest.mark.parametrize("typed", ["Ohio", "oh", "US-OH", "  OHIO "])
def test_a_region_typed_in_any_way_leaves_its_law_in_force(
    shop: Shop, owner: Staff, client: Any, job: Job, typed: str
) -> None:
    own_rule(shop, "50")
    answer = client.patch("/api/v1/shop/", {"version": shop.version, "region": typed}, format="json")
    assert (answer.status_code, answer.json()["region"]) == (200, "OH")
    shop.refresh_from_db()
    assert one_more_part(shop, owner, job, "40.00").state == "proposed"


@pytest.mark.parametrize(
    ("typed", "near"),
    [("Ohoi", "OH (Ohio)"), ("Minesota", "MN (Minnesota)"), ("ON", "WY (Wyoming)"), ("US", "AK (Alaska)")],
)
def test_a_region_that_the_country_does_not_have_is_refused_with_what_it_has(
    shop: Shop, client: Any, typed: str, near: str
) -> None:
    answer = client.patch("/api/v1/shop/", {"version": shop.version, "region": typed}, format="json")
    (problem,) = answer.json()["errors"]
    assert (answer.status_code, problem["field"]) == (400, "region") and near in problem["remedy"]
    assert Shop.objects.get(pk=shop.pk).region == "OH"


@pytest.mark.parametrize("region", ["", "Nowhere"])
def test_without_a_known_region_not_a_cent_over_what_was_agreed_is_charged_and_it_is_said_why(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, job: Job, region: str
) -> None:
    own_rule(shop, "50")
    Shop.objects.update(region=region)  # as older records have it
    shop.refresh_from_db()
    job = Job.objects.get(pk=job.pk)
    assert one_more_part(shop, owner, job, "0.01").state == "proposed"
    told = client.get(f"/api/v1/orders/{order.pk}/authorisation/").json()
    assert "the shop's region is not known" in told["decided_by"] and told["laws"] == []
    assert not told["allowed"] and "no state's law could be looked up" in told["steps"][0]["text"]
    fresh = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert "the shop's region is not known" in fresh.facts["laws_not_looked_up"]
    Customer.objects.update(kind="crew")  # no state's law of ours binds for a crew's machine, so nothing is missing
    assert compare(RepairOrder.objects.get(pk=order.pk)).own == Allowance(percent=D(50))
    assert "laws_not_looked_up" not in issue_estimate(shop=shop, by=owner, order_id=order.pk).facts


def test_a_bill_that_moves_to_the_customer_is_never_tolerated(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    own_rule(shop, "999")
    Customer.objects.update(kind="crew")
    job = season_service(shop, owner, order)
    covered = set_payer_basis(job=job, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    agreed(shop, owner, order)
    moved = change_job(shop=shop, by=owner, job_id=covered.pk, version=covered.version, changes={"payer": "customer"})
    assert moved.state == "proposed"


def test_a_new_answer_lifts_the_stop(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    changed = one_more_part(shop, owner, job, "30")
    assert changed.state == "proposed"
    agreed(shop, owner, order)
    assert Job.objects.get(pk=job.pk).state == "agreed"
    fit_part(shop=shop, by=owner, part_id=changed.parts.get(words="Fuel filter").pk)


def test_the_estimate_says_what_the_law_wants_said(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    facts = Estimate.objects.get(order=order).facts
    (paper,) = facts["legal_fields"]
    values = {one["name"]: one["value"] for one in paper["fields"]}
    assert values["anticipated cost"] == facts["customer_total"]
    assert values["identity of the supplier"].startswith("Willow Power Equipment")
    assert "Imke Dorran" in values["name and telephone of the consumer"]
    assert "10 % over the estimate" in paper["limit"] and "OAC" in paper["source"]
    Customer.objects.update(kind="crew")
    assert issue_estimate(shop=shop, by=owner, order_id=order.pk).facts["legal_fields"] == []


def test_wanted_fields_name_laws_that_are_there() -> None:
    laws = frozenset(law.key for law in all_laws())
    assert wanted_by("minnesota", "estimate") is not wanted_by("minnesota", "invoice")
    assert wanted_by("florida_vehicles", "estimate") is None
    head = "source: s, address: a, edition: e, confidence: read, stands_on: [estimate]"
    for source, problem in {
        f"papers: [{{law: nowhere, {head}, fields: []}}]": "nowhere",
        f"papers: [{{law: minnesota, {head}, fields: [{{name: n, from: moon}}]}}]": "moon",
        f"papers: [{{law: minnesota, {head}, fields: []}}, {{law: minnesota, {head}, fields: []}}]": "twice",
        f"papers: [{{law: minnesota, {head}, fields: [{{name: n, from: shop, drawn: cellar}}]}}]": "cellar",
    }.items():
        with pytest.raises(strict.DataError, match=problem):
            parse_papers(strict.parse(source, "some.yaml"), laws)


def test_the_door_shows_it_and_knows_no_strangers(
    shop: Shop, order: RepairOrder, job: Job, client: Any, strangers: dict[str, str]
) -> None:
    got = client.get(f"/api/v1/orders/{order.pk}/authorisation/")
    assert got.status_code == 200 and got.data["allowed"] is True
    assert got.data["authorised"]["total"] == "82.70"
    assert client.get(f"/api/v1/orders/{strangers['order']}/authorisation/").status_code == 404
