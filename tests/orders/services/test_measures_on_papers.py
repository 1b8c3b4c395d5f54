"""What was measured in one system of units, as readers of the other see it on their papers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Finding, RepairOrder
from orders.rules import shown_units, units
from orders.services.estimates import issue_estimate
from orders.services.jobs import change_job
from orders.services.order_papers import bench_copy_sheet, repair_summary_sheet
from orders.services.order_sheet import repair_order_sheet
from orders.services.scope import reworded
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import a_finding, agreed, season_service, set_rates
from tests.papers_reading import words_of

D = Decimal


@pytest.mark.parametrize(
    ("value", "unit", "system", "expected"),
    [
        ("0.3", "mm", "us", "0.012 in (0.3 mm)"),
        ("0.3", "mm", "metric", "0.3 mm"),
        ("0.3", "mm", "", "0.3 mm"),
        ("0.025", "in", "metric", "0.64 mm (0.025 in)"),
        ("14.00", "mm", "us", "0.55 in (14 mm)"),
        ("36", "ft", "metric", "11.0 m (36 ft)"),
        ("20", "lbf ft", "metric", "27 N·m (20 lbf·ft)"),
        ("27", "N m", "us", "19.9 lbf·ft (27 N·m)"),
        ("12", "N m", "us", "106 lbf·in (12 N·m)"),
        ("120", "psi", "metric", "827 kPa (120 psi)"),
        ("212", "F", "metric", "100.0 °C (212 °F)"),
        ("-40", "C", "us", "-40 °F (-40 °C)"),
        ("0.5", "gal", "metric", "1.9 L (0.5 gal)"),
        ("1.9", "Mohm", "us", "1.9 MΩ"),
        ("45", "cc", "us", "45 cc"),
        ("3100", "rpm", "metric", "3100 rpm"),
    ],
)
def test_a_figure_is_told_in_the_readers_units_with_the_recorded_one_beside(
    value: str, unit: str, system: str, expected: str
) -> None:
    assert shown_units.for_reader(D(value), unit, system) == expected


@pytest.mark.parametrize("system", shown_units.SYSTEMS)
def test_every_unit_is_the_readers_or_comes_back_to_what_was_recorded(system: str) -> None:
    for unit in units.measurement_units():
        for text in ("0.1", "3.7", "12", "250"):
            value = D(text)
            other = shown_units.unit_for(value, unit.code, system)
            assert shown_units.unit_for(value, other, system) in (other, "lbf in", "lbf ft")
            if other == unit.code:
                continue
            told = shown_units.converted(value, unit.code, other)
            back = units.convert(told, other, unit.code, 9)
            last = D(1).scaleb(int(value.as_tuple().exponent))
            assert abs(back - value) <= last / 2, f"{value} {unit.code} came back as {back}"


@pytest.mark.django_db
def test_papers_show_the_customers_units_and_the_bench_the_shops(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    order.refresh_from_db()
    Shop.objects.update(measures="us")
    gap: Finding = a_finding(shop, owner, order, measured=D("0.3"), measured_unit="mm")
    season_service(shop, owner, order, findings=[gap.pk])

    def papers() -> dict[str, str]:
        told = RepairOrder.objects.get(pk=order.pk)
        sheets: dict[str, Any] = {
            "repair_order": repair_order_sheet(told),
            "repair_summary": repair_summary_sheet(told),
            "bench_copy": bench_copy_sheet(told),
        }
        read = {kind: words_of(draw_sheet(shop, kind, to_json(sheet)).pdf) for kind, sheet in sheets.items()}
        estimate = issue_estimate(shop=told.shop, by=owner, order_id=told.pk)
        assert estimate.document is not None
        return read | {"estimate": words_of(draw_sheet(shop, "estimate", estimate.document.sheet).pdf)}

    for kind, text in papers().items():
        assert "0.012 in (0.3 mm)" in text, kind
    Customer.objects.update(measures="metric", language="es")
    assert repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).jobs[0].cause == "Desgaste normal"
    for kind, text in papers().items():
        assert ("0.012 in" in text) is (kind == "bench_copy"), kind
        assert "0.3 mm" in text, kind
    bench = bench_copy_sheet(RepairOrder.objects.get(pk=order.pk))
    named = {unit for point in bench.points for unit in point.units}
    assert {"in", "psi", "lbf·in", "kΩ"} <= named and not {"mm", "kPa", "bar", "N·m"} & named
    assert shown_units.in_order(("mm", "in", "kohm"), "metric") == ("mm", "kΩ")
    assert shown_units.in_order(("kPa", "rpm"), "us") == ("rpm", "kPa")
    assert shown_units.in_order(("mm", "in"), "") == ("mm", "in")


@pytest.mark.django_db
def test_another_choice_of_units_makes_no_agreed_job_another_one(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    order.refresh_from_db()
    gap = a_finding(shop, owner, order, measured=D("0.3"), measured_unit="mm")
    job = season_service(shop, owner, order, findings=[gap.pk])
    estimate = agreed(shop, owner, order)
    Customer.objects.update(measures="us")
    job.refresh_from_db()
    assert reworded(job, estimate.facts) == ""
    older = {**estimate.facts, "shop": {key: value for key, value in estimate.facts["shop"].items() if key != "units"}}
    assert reworded(job, older) == ""
    changed = change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes={"correction": "Set."})
    assert changed.state == "agreed"
    Finding.objects.update(measured=D("0.4"))
    assert reworded(job, estimate.facts) == "other findings"


@pytest.mark.django_db
def test_shop_and_customer_say_their_units_over_the_api(shop: Shop, order: RepairOrder, client: Any) -> None:
    for path in (f"/api/v1/customers/{order.customer_id}/", "/api/v1/shop/"):
        version = client.get(path).json()["version"]
        assert client.get(path).json()["measures"] == ""
        answer = client.patch(path, {"version": version, "measures": "metric"}, format="json")
        assert answer.status_code == 200 and answer.json()["measures"] == "metric"
        wrong = client.patch(path, {"version": version + 1, "measures": "imperial"}, format="json")
        assert wrong.status_code == 400 and wrong.json()["errors"][0]["field"] == "measures"
        back = client.patch(path, {"version": version + 1, "measures": ""}, format="json")
        assert back.status_code == 200 and back.json()["measures"] == ""
