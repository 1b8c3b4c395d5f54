"""The eleven cautions: which machine has which, and that they stand on its papers in the reader's language."""

from __future__ import annotations

from typing import Any

import pytest

from orders.models import RepairOrder
from orders.rules import cautions, trade
from orders.services.condition import condition_report_sheet
from orders.services.estimates import issue_estimate
from orders.services.order_papers import bench_copy_sheet, repair_summary_sheet
from orders.services.order_sheet import repair_order_sheet
from orders.services.sheets import estimate_sheet
from shopdocs.documents.press.cautions import CAUTIONS
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.words import words
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import season_service, set_rates
from tests.papers_reading import words_of

ELEVEN = {
    "fuel", "exhaust", "backfeed", "ignition", "blades", "kickback", "raised", "spring", "noise", "muffler", "battery",
}  # fmt: skip
OPENED = {"ignition", "spring", "raised"}
"""What hurts whoever opens the machine: these stand on the bench copy alone. An estimate leaves out burns and noise."""
MACHINES: list[tuple[str, str, set[str]]] = [
    ("saw", "two_stroke", {"fuel", "exhaust", "kickback", "muffler", "noise", "ignition", "spring"}),
    ("saw", "battery", {"kickback", "battery", "noise"}),
    ("generator", "four_stroke", {"fuel", "exhaust", "backfeed", "muffler", "noise", "ignition", "spring"}),
    ("generator", "diesel", {"fuel", "exhaust", "backfeed", "muffler", "noise", "spring"}),
    ("mower", "four_stroke", {"fuel", "exhaust", "blades", "raised", "muffler", "noise", "ignition", "spring"}),
    ("mower", "mains", {"blades", "raised"}),
    ("rider", "battery", {"blades", "raised", "battery"}),
    ("pump", "mains", set()),
    ("saw", "unknown", {"fuel", "exhaust", "kickback", "muffler", "noise", "ignition", "spring", "battery"}),
]
DRAWN = [
    row
    for row in MACHINES
    if row[:2] in {("saw", "two_stroke"), ("generator", "diesel"), ("mower", "four_stroke"), ("rider", "battery")}
]


def test_there_are_eleven_and_each_is_some_machines() -> None:
    assert set(CAUTIONS) == ELEVEN
    named = {
        code
        for family in trade.families()
        for power in (*family.powers, trade.NOT_KNOWN)
        for code in cautions.for_work(family.code, power)
    }
    assert named == ELEVEN
    assert set().union(*(expected for _, _, expected in DRAWN)) == ELEVEN


@pytest.mark.parametrize(("family", "power", "expected"), MACHINES)
def test_a_machine_has_the_cautions_of_its_kind_and_drive(family: str, power: str, expected: set[str]) -> None:
    bench, use = cautions.for_work(family, power), cautions.for_use(family, power)
    assert len(set(bench)) == len(bench) and set(bench) == expected
    assert set(use) == expected - OPENED
    assert set(cautions.for_answer(family, power)) == expected - OPENED - {"muffler", "noise"}


def made(order: RepairOrder, family: str, power: str, language: str) -> RepairOrder:
    """The order as if its machine were of this kind, and its customer and shop spoke this language."""
    order.unit.model.family, order.unit.power_source = family, power
    order.unit.model.save()
    order.unit.save()
    order.customer.language = order.shop.language = language
    order.customer.save()
    order.shop.save()
    return RepairOrder.objects.for_shop(order.shop).get(pk=order.pk)


def stands(pdf: bytes, code: str, language: str) -> bool:
    head, text = (words(language)(part) for part in CAUTIONS[code])
    read = words_of(pdf).replace(" ", "")
    return head.replace(" ", "") in read and text.replace(" ", "") in read


@pytest.mark.django_db
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(("family", "power", "expected"), DRAWN)
def test_they_stand_on_the_papers_of_whoever_can_be_hurt(
    shop: Shop, owner: Staff, order: RepairOrder, family: str, power: str, expected: set[str], language: str
) -> None:
    set_rates(shop)
    order.refresh_from_db()
    season_service(shop, owner, order)
    told = made(order, family, power, language)
    papers: list[tuple[str, Any, set[str]]] = [
        ("bench_copy", bench_copy_sheet(told), expected),
        ("repair_order", repair_order_sheet(told), expected - OPENED),
        ("repair_summary", repair_summary_sheet(told), expected - OPENED),
        ("condition_report", condition_report_sheet(told), expected - OPENED),
        (
            "estimate",
            estimate_sheet(issue_estimate(shop=shop, by=owner, order_id=told.pk).facts),
            expected - OPENED - {"muffler", "noise"},
        ),
    ]
    for kind, sheet, wanted in papers:
        pdf = draw_sheet(shop, kind, to_json(sheet)).pdf
        assert {code for code in ELEVEN if stands(pdf, code, language)} == wanted, kind
