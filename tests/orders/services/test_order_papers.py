"""Bench copy and repair summary: what the records know, as these papers tell it; drawn by their registered kinds."""

from __future__ import annotations

import pytest

from orders.models import Customer, Hold, Job, RepairOrder
from orders.services.holds import hold_for
from orders.services.order_papers import bench_copy_sheet, repair_summary_sheet
from orders.services.order_sheet import repair_order_sheet
from orders.services.papers import request_order_paper
from orders.services.people import create_customer
from shopdocs.documents.models import Document
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import a_finding, season_service, set_rates
from tests.papers_reading import words_of

pytestmark = pytest.mark.django_db


def test_a_bench_copy_lists_every_point_and_says_what_may_not_be_begun(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    order.refresh_from_db()
    job = season_service(shop, owner, order)
    document = request_order_paper(shop=shop, by=owner, order_id=order.pk, paper="bench_copy")
    text = words_of(draw_sheet(shop, "bench_copy", document.sheet).pdf)
    sheet = bench_copy_sheet(order)
    assert len(sheet.points) >= 10
    for one in sheet.points:
        assert one.check.name in text
    assert "not agreed: do not begin" in text and job.title in text
    assert order.customer.name not in text
    Job.objects.update(state="agreed")
    assert bench_copy_sheet(order).jobs[0].agreed


def test_a_summary_tells_what_was_left_and_what_to_watch(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    order.refresh_from_db()
    job = season_service(shop, owner, order)
    finding = a_finding(shop, owner, order, unsafe=True)
    job.findings.add(finding)
    Job.objects.update(state="declined")
    sheet = repair_summary_sheet(order)
    assert sheet.jobs[0].left == "You asked us to leave it." and sheet.jobs[0].done == ""
    assert sheet.watch[0].endswith("Do not run the machine like this.")
    Job.objects.update(state="done", correction="Filter cleaned, plug renewed.")
    sheet = repair_summary_sheet(order)
    assert (sheet.jobs[0].done, sheet.jobs[0].left, sheet.watch) == ("Filter cleaned, plug renewed.", "", ())
    assert any("manual" in line for line in sheet.upkeep)
    document = request_order_paper(shop=shop, by=owner, order_id=order.pk, paper="repair_summary")
    assert "Filter cleaned" in words_of(draw_sheet(shop, "repair_summary", document.sheet).pdf)


def test_a_paper_that_is_none_is_refused_and_leaves_no_row(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    with pytest.raises(Refused, match="paper"):
        request_order_paper(shop=shop, by=owner, order_id=order.pk, paper="poster")
    assert not Document.objects.for_shop(shop).exists()


def test_the_customer_reads_their_language_and_the_bench_the_shops(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    Customer.objects.update(language="es-MX")
    order.refresh_from_db()
    assert (repair_summary_sheet(order).language, bench_copy_sheet(order).language) == ("es", "en")
    Customer.objects.update(language="xx")
    order.refresh_from_db()
    assert repair_summary_sheet(order).language == "en"


def test_a_customer_without_a_language_reads_the_shops(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    plain = create_customer(shop=shop, by=owner, facts={"name": "Bo"})
    order.refresh_from_db()
    order.customer, order.shop.language = plain, "es"
    assert (plain.language, repair_summary_sheet(order).language) == ("", "es")
    plain.language = "en"
    assert repair_summary_sheet(order).language == "en"


def test_why_a_machine_is_held_is_told_in_the_readers_language(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    Customer.objects.filter(pk=order.customer_id).update(language="es")
    finding = a_finding(shop, owner, order, unsafe=True)
    hold = hold_for(shop=shop, by=owner, finding=finding)
    assert hold is not None and hold.reason == "Finding 1: fuel line, cracked."

    def told() -> str:
        return repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).holds[0].reason

    assert told() == f"{hold.tag}: Hallazgo 1: tubo de combustible, con grietas."
    left = f"Finding 1 of {order.number}: fuel line, cracked; left on 2026-03-04 as it was."
    Hold.objects.update(reason=left)
    assert told().endswith(
        f"Hallazgo 1 de {order.number}: tubo de combustible, con grietas; salió el 4 mar 2026 tal como estaba."
    )
    finding.condition = "leaks"
    finding.save()
    assert told().endswith(left), "what was written then stays, where the finding says something else now"
