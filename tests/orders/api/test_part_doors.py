"""Parts at the doors: kits, prices by cost, feet and litres, environment charges, what is on order, what comes back."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, Job, JobPart, Part, RepairOrder
from orders.models.catalogue import PricingTerms
from orders.models.jobs import JobFee
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_pricing_doors import V1, estimate, post, problems
from tests.orders.back_kit import agreed, invoiced, set_rates

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def rated(shop: Shop) -> None:
    set_rates(shop)


def part(client: APIClient, number: str, price: str = "10.00", **more: Any) -> str:
    made = post(client, "parts/", {"number": number, "words": f"Part {number}", "list_price": price, **more})
    return str(made["id"])


def job(client: APIClient, order: RepairOrder, *parts: dict[str, Any]) -> Any:
    return post(client, f"orders/{order.pk}/jobs/", {"title": "Work", "parts": list(parts)})


def test_a_kit_at_its_own_price_says_what_it_holds(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    gasket, screw = part(client, "GA", "2.00"), part(client, "SC", "0.50")
    kit = part(client, "KIT", "12.50", kit=[{"part": gasket, "quantity": "1"}, {"part": screw, "quantity": "4"}])
    job(client, order, {"part": kit, "quantity": "2"})
    facts = estimate(client, order)
    assert facts["net"] == "25.00"
    (line,) = estimate_sheet(facts).jobs[0].parts
    assert line.what == "Part KIT · holds 1 × Part GA, 4 × Part SC"
    assert invoiced(shop, owner, order).facts["net"] == "25.00"


def test_a_kit_that_is_sold_by_its_parts_is_a_line_for_each(client: APIClient, order: RepairOrder) -> None:
    screw = part(client, "SC", "0.50")
    bag = part(client, "BAG", "9.99", kit=[{"part": screw, "quantity": "4"}])
    gasket = part(client, "GA", "2.00")
    kit = part(
        client,
        "KIT",
        "12.50",
        kit_by_parts=True,
        kit=[{"part": gasket, "quantity": "1"}, {"part": bag, "quantity": "2"}],
    )
    made = job(client, order, {"part": kit, "quantity": "3"})
    assert [(line["number"], line["quantity"]) for line in made["parts"]] == [("GA", "3.000"), ("SC", "24.000")]
    assert estimate(client, order)["net"] == "18.00"
    priced = {"title": "x", "parts": [{"part": kit, "unit_price": "5"}]}
    assert "parts[0].unit_price" in problems(client, f"orders/{order.pk}/jobs/", priced)


def test_what_was_replaced_by_a_kit_or_in_it_is_said_with_its_parts(client: APIClient, order: RepairOrder) -> None:
    new = part(client, "G2", "2.00")
    old = part(client, "G1", "1.00", replaced_by=new)
    pieces = [{"part": old, "quantity": "1"}, {"part": part(client, "SC"), "quantity": "2"}]
    kit = part(client, "K2", kit_by_parts=True, kit=pieces)
    asked = part(client, "K1", replaced_by=kit)
    lines = job(client, order, {"part": asked, "quantity": "1"})["parts"]
    assert [(line["number"], line["price_how"]) for line in lines] == [
        ("G2", "K1 is replaced by K2; G1 is replaced by G2"), ("SC", "K1 is replaced by K2"),
    ]  # fmt: skip


def test_a_kit_is_sold_by_its_parts_to_the_thousandth_of_one(client: APIClient, order: RepairOrder) -> None:
    oil, grease = part(client, "OIL", "8.00"), part(client, "GR", "4.00")
    can = part(client, "CAN", "1.00", kit=[{"part": oil, "quantity": "0.125"}, {"part": grease, "quantity": "0.001"}])
    kit = part(client, "KIT", "9.00", kit_by_parts=True, kit=[{"part": can, "quantity": "0.333"}])
    made = job(client, order, {"part": kit, "quantity": "0.5"})
    # 0.5 x 0.333 x 0.125 = 0.0208125; the grease would be less than any line counts
    assert [(line["number"], line["quantity"]) for line in made["parts"]] == [("OIL", "0.021"), ("GR", "0.001")]
    whole = job(client, order, {"part": can, "quantity": "0.333"})["parts"][0]
    assert [one["quantity"] for one in whole["contents"]] == ["0.125", "0.001"]


def test_a_kit_that_holds_itself_or_a_stranger_is_refused(client: APIClient, other_shop: Shop) -> None:
    inner = part(client, "IN")
    outer = part(client, "OUT", kit=[{"part": inner, "quantity": "1"}])
    looped = client.patch(
        f"{V1}/parts/{inner}/", {"version": 1, "kit": [{"part": outer, "quantity": "1"}]}, format="json"
    )
    assert looped.status_code == 400 and "holds itself" in looped.json()["errors"][0]["problem"]
    assert Part.objects.get(pk=inner).kit == []
    theirs = Part.objects.create(shop=other_shop, number="T", words="T", list_price=D(1))
    new = {"number": "N", "words": "N", "list_price": "1"}
    assert "kit" in problems(client, "parts/", {**new, "kit": [{"part": str(theirs.pk), "quantity": "1"}]})
    assert "kit.quantity" in problems(client, "parts/", {**new, "kit": [{"part": inner, "quantity": "0"}]})
    assert "kit_by_parts" in problems(client, "parts/", {**new, "kit_by_parts": True})


def refused(client: APIClient, pk: str, changes: dict[str, Any]) -> tuple[int, str]:
    """The answer to a change of a part, and the field that it names."""
    answer = client.patch(f"{V1}/parts/{pk}/", {"version": Part.objects.get(pk=pk).version, **changes}, format="json")
    return answer.status_code, (answer.json().get("errors") or [{"field": ""}])[0]["field"]


def test_a_kit_and_a_replacement_do_not_come_back_by_way_of_each_other(client: APIClient) -> None:
    loose = part(client, "C")
    kit = part(client, "K", kit_by_parts=True, kit=[{"part": loose, "quantity": "1"}])
    assert refused(client, loose, {"replaced_by": kit}) == (400, "replaced_by")
    box = part(client, "BOX", kit=[{"part": kit, "quantity": "1"}])
    between = part(client, "B", replaced_by=box)
    assert refused(client, loose, {"replaced_by": between}) == (400, "replaced_by")
    assert Part.objects.get(pk=loose).replaced_by is None

    old, new = part(client, "OLD"), part(client, "NEW")
    assert refused(client, old, {"replaced_by": new})[0] == 200
    assert refused(client, new, {"kit_by_parts": True, "kit": [{"part": old, "quantity": "2"}]}) == (400, "kit")
    assert Part.objects.get(pk=new).kit == []
    assert refused(client, new, {"kit": [{"part": loose, "quantity": "2"}]})[0] == 200


def test_a_loop_that_is_in_the_catalogue_already_is_refused_at_the_job(client: APIClient, order: RepairOrder) -> None:
    first, second = part(client, "C1"), part(client, "C2")
    one = part(client, "K1", kit_by_parts=True, kit=[{"part": first, "quantity": "1"}])
    other = part(client, "K2", kit_by_parts=True, kit=[{"part": second, "quantity": "1"}])
    Part.objects.filter(pk=first).update(replaced_by=other)
    Part.objects.filter(pk=second).update(replaced_by=one)
    assert problems(client, f"orders/{order.pk}/jobs/", {"title": "x", "parts": [{"part": one}]}).keys() == {
        "parts[0].part"
    }
    assert not order.jobs.exists()


TIERS = [{"up_to": "10.00", "markup": "100"}, {"up_to": "50.00", "markup": "60"}, {"up_to": None, "markup": "25"}]


@pytest.mark.parametrize(
    ("cost", "price"),
    [("10.00", "20.00"), ("10.01", "16.02"), ("50.00", "80.00"), ("50.01", "62.51"), ("90.00", "99.00")],
)
def test_a_price_by_cost_at_each_edge_and_never_above_list(
    client: APIClient, order: RepairOrder, cost: str, price: str
) -> None:
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "price_tiers": {"": TIERS}})
    made = job(client, order, {"part": part(client, "C", "99.00", cost=cost)})
    line = made["parts"][0]
    assert line["unit_price"] == price and line["price_how"].startswith("Cost")
    assert "Cost" not in str(estimate_sheet(estimate(client, order)))


def test_a_kind_of_customer_has_tiers_of_its_own(client: APIClient, order: RepairOrder) -> None:
    crew = [{"up_to": None, "markup": "10"}]
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "price_tiers": {"": TIERS, "crew": crew}})
    Customer.objects.filter(pk=order.customer_id).update(kind="crew")
    one, two = part(client, "C", "99.00", cost="10.00"), part(client, "U", "7.00")
    made = job(client, order, {"part": one}, {"part": one, "unit_price": "9.00"}, {"part": two})
    assert [line["unit_price"] for line in made["parts"]] == ["11.00", "9.00", "7.00"]


@pytest.mark.parametrize(
    "tiers",
    [
        {"": TIERS[:2]},
        {"": [TIERS[1], TIERS[0], TIERS[2]]},
        {"": [{"up_to": None, "markup": "-1"}]},
        {"": [{"up_to": None, "markup": "NaN"}]},
        {"duke": TIERS},
    ],
)
def test_tiers_that_do_not_rise_to_an_open_end_are_refused(client: APIClient, tiers: Any) -> None:
    found = problems(client, "pricing-terms/", {"starts_on": "2020-01-01", "price_tiers": tiers})
    assert any(name.startswith("price_tiers") for name in found)
    assert not PricingTerms.objects.exists()


def test_line_by_the_foot_is_rounded_once(client: APIClient, order: RepairOrder) -> None:
    job(client, order, {"words": "Fuel line, by the foot", "quantity": "2.125", "unit_price": "0.195"})
    # 2.125 x 0.195 = 0.414375
    assert estimate(client, order)["net"] == "0.41"


def test_core_and_environment_charges_are_lines_of_their_own(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    battery = part(client, "BAT", "40.00", core_charge="15.00", environment_charge="2.50")
    job(client, order, {"part": battery, "quantity": "2"})
    facts = estimate(client, order)
    assert [(one["words"], one["amount"]) for one in facts["jobs"][0]["extras"]] == [
        ("Core charge: Part BAT", "30.00"),
        ("Environment charge: Part BAT", "5.00"),
    ]
    assert facts["net"] == "115.00"
    assert invoiced(shop, owner, order).facts["net"] == "115.00"


def test_a_part_on_back_order_says_so_with_its_day(shop: Shop, client: APIClient, order: RepairOrder) -> None:
    today = shop.today()
    soon = today + dt.timedelta(days=9)
    RepairOrder.objects.filter(pk=order.pk).update(promised_on=today + dt.timedelta(days=3))
    made = job(client, order, {"words": "Ignition module", "unit_price": "60.00"})["parts"][0]
    path = f"{V1}/job-parts/{made['id']}/"
    answer = client.patch(path, {"version": 1, "state": "back_ordered", "expected_on": str(soon)}, format="json").json()
    assert (answer["state"], answer["expected_on"], answer["after_promised"]) == ("back_ordered", str(soon), True)
    (line,) = estimate_sheet(estimate(client, order)).jobs[0].parts
    assert line.condition.startswith("back-ordered, expected ") and str(soon.year) in line.condition
    unknown = client.patch(path, {"version": 2, "expected_on": None}, format="json").json()
    assert unknown["after_promised"] is False
    (line,) = estimate_sheet(estimate(client, order)).jobs[0].parts
    assert line.condition == "back-ordered, day not known"
    past = {"version": 3, "expected_on": str(today - dt.timedelta(days=1))}
    assert client.patch(path, past, format="json").status_code == 400
    here = client.patch(path, {"version": 3, "state": "arrived"}, format="json").json()
    assert (here["state"], here["expected_on"]) == ("arrived", None)
    late = client.patch(path, {"version": 4, "expected_on": str(soon)}, format="json")
    assert late.status_code == 400 and late.json()["errors"][0]["field"] == "expected_on"


def test_what_is_billed_is_no_longer_on_order(shop: Shop, owner: Staff, client: APIClient, order: RepairOrder) -> None:
    made = job(client, order, {"words": "Belt", "unit_price": "20.00"})["parts"][0]
    path = f"{V1}/job-parts/{made['id']}/"
    assert client.patch(path, {"version": 1, "state": "back_ordered"}, format="json").status_code == 200
    bill = invoiced(shop, owner, order)
    assert [line.condition for line in invoice_sheet(bill.facts).jobs[0].parts] == [""]


def test_cores_come_back_at_what_was_charged_and_no_more(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    starter = part(client, "ST", "40.00", core_charge="15.00")
    line = job(client, order, {"part": starter, "quantity": "2"})["parts"][0]
    path = f"job-parts/{line['id']}/return/"
    fee = post(client, path, {"what": "core", "quantity": "1"})
    assert (fee["kind"], fee["amount"]) == ("core", "-15.00")
    assert "quantity" in problems(client, path, {"what": "core", "quantity": "1.5"})
    post(client, path, {"what": "core"})
    assert "quantity" in problems(client, path, {"what": "core"})
    assert estimate(client, order)["net"] == "80.00"
    assert JobFee.objects.count() == 2


def test_an_unused_part_comes_back_at_its_discounted_price(client: APIClient, order: RepairOrder) -> None:
    line = job(client, order, {"words": "Belt", "unit_price": "20.00", "quantity": "2", "discount_percent": "10"})[
        "parts"
    ][0]
    post(client, f"job-parts/{line['id']}/return/", {"what": "part"})
    assert estimate(client, order)["net"] == "18.00"
    assert "what" in problems(client, f"job-parts/{line['id']}/return/", {"what": "core"}, 409)


def test_a_fitted_part_is_not_unused(shop: Shop, owner: Staff, client: APIClient, order: RepairOrder) -> None:
    line = job(client, order, {"words": "Belt", "unit_price": "20.00"})["parts"][0]
    agreed(shop, owner, order)
    assert client.post(f"{V1}/job-parts/{line['id']}/fit/").status_code == 200
    assert "what" in problems(client, f"job-parts/{line['id']}/return/", {"what": "part"}, 409)
    assert Job.objects.get().state == "agreed" and JobPart.objects.get().returns.count() == 0


@pytest.mark.parametrize("price", ["0.123456789", "-1", "NaN", "1e400", "Infinity", "99999999999999"])
def test_prices_that_cannot_be(client: APIClient, order: RepairOrder, price: str) -> None:
    found = problems(client, "parts/", {"number": "X", "words": "X", "list_price": "1", "environment_charge": price})
    assert "environment_charge" in found and not Part.objects.exists()
