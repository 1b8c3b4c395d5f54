"""Estimate, invoice and repair order read back: every fact of the sheet stands on the paper."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from typing import Any

import pypdf
import pytest

from orders.papers import estimate, invoice, repair_order
from tests import papers_samples as samples
from tests.papers_reading import codes_of, faults, page_words, words_of

PAPERS: list[tuple[Any, Any]] = [
    (estimate, samples.estimate),
    (invoice, samples.invoice),
    (repair_order, samples.repair_order),
]


@pytest.mark.parametrize("module, make", PAPERS)
@pytest.mark.parametrize("paper, size", [("letter", (612, 792)), ("a4", (595.28, 841.89))])
def test_each_paper_is_neat_and_scans_on_both_sizes(
    module: Any, make: Any, paper: str, size: tuple[float, float]
) -> None:
    drawn = module.draw(make(paper), samples.PICTURES)
    assert faults(drawn.pdf) == []
    assert drawn.replaced == ()
    assert codes_of(drawn.pdf) == [[make(paper).code]] * drawn.pages
    for page in pypdf.PdfReader(BytesIO(drawn.pdf)).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize("module, make", PAPERS)
def test_the_same_sheet_gives_the_same_bytes(module: Any, make: Any) -> None:
    one, two = module.draw(make(), samples.PICTURES), module.draw(make(), samples.PICTURES)
    assert one == two
    assert one.sha256 != module.draw(make(version=7), samples.PICTURES).sha256


def test_an_estimate_says_what_was_found_what_it_costs_who_pays_and_how_to_answer() -> None:
    text = words_of(estimate.draw(samples.estimate(), {}).pdf)
    for fact in (
        "Estimate E-1042 · version 2 · 9 Nov 2026",
        "Odalys Thornquist",
        "RO-2231",
        "Valid until 9 Dec 2026",
        "Kestrelline KL-462",
        "KL7-0049218",
        "18 Nov 2024",
        "61.4 h (read at check-in)",
        "Use Residential",
        "Power source Petrol, two-stroke",
        "Job 1 paid by Warranty Replace ignition module",
        "Module coil open: 1.9 MΩ",
        "Warranty: maker's two-year promise",
        "IG-240 Replace ignition module, set air gap 0.4 95.00 38.00",
        "KL-30-1182 Ignition module new, original 1 86.40 86.40",
        "Job 1, before tax $202.70",
        "OIL-BC Bar and chain oil new, bulk, by the litre 0.95 9.80 9.31",
        "0.3 h saved: top cover off once, with job 2.",
        "Customer 296.16 5.23 301.39",
        "Warranty 202.70 0.00 202.70",
        "State sales tax, 6 % of $74.66 $4.48",
        "Town tax, 1 % of $74.66 $0.75",
        "Customer pays $301.39",
        "https://desk.brindlehollow.example/a/7q2f-kd93",
        "The maker decides",
    ):
        assert fact in text, fact


def test_an_invoice_says_what_the_customer_pays_and_what_others_pay() -> None:
    text = words_of(invoice.draw(samples.invoice(), {}).pdf)
    for fact in (
        "Invoice I-3017 · 9 Nov 2026",
        "Due $201.39 by 23 Nov 2026",
        "Replaced the ignition module, set the air gap to 0.3 mm",
        "Job 1, before tax $202.70 of which you pay $0.00",
        "Paid by others not asked of you",
        "claimed from Northfell Distribution as W-0412",
        "Before tax $296.16",
        "Total $301.39",
        "Paid 9 Nov 2026, card at the counter -$100.00",
        "Until next season",
        "no older than 30 days",
    ):
        assert fact in text, fact
    assert "version" not in text


def test_a_paid_invoice_asks_for_nothing_more() -> None:
    text = words_of(invoice.draw(samples.invoice(due=Decimal("0.00")), {}).pdf)
    assert "Due $0.00" in text
    assert "by 23 Nov 2026" not in text
    assert "By card or cash" not in text


def test_a_repair_order_tells_the_visit_from_complaint_to_last_check() -> None:
    text = words_of(repair_order.draw(samples.repair_order(), samples.PICTURES).pdf)
    for fact in (
        "UNSAFE TO RUN — tagged Chain brake does not stop the chain (4 Nov 2026, Ruben Hallorsen)",
        "It leaves the shop only with a signed note",
        "Received 4 Nov 2026, Imke Sorrow",
        "Promised 11 Nov 2026",
        "2 May 2025 (receipt 40117, copy kept)",
        "It quit while I was limbing",
        "bar cover; combination tool",
        "Engine, maker Vardø Motor Model VM-61",
        "61-884120-C",
        "family RVMXS.0612GA, 61 cc",
        "vent replaced, dry after an hour",
        "First, at every point: Engine stopped and cold, plug lead off. Also at Chain brake: Cut-proof gloves. "
        "Also at Fuel tank, cap and vent, Fuel sample: No flame, no heater near.",
        "☑ Serial plate and labels good ☑ Chain brake see F2",
        "Chain brake, see F2: tagged",
        "Chain brake, see F2 · Chain brake: whole, tight",
        "Fuel sample, good: kept, marked RO-2231",
        "☐ Piston, through the exhaust port",
        "Finding F1 Ignition module Condition coil open Cause defect in the part Measured 1.9 MΩ",
        "Because of F3: dropped on the housing",
        "Job 1 done paid by Warranty Replace the ignition module Complaint No spark, will not start Cause Ignition module, coil open "
        "Correction Replaced the module",
        "IG-240 Replace ignition module, set air gap Ruben Hallorsen 0.4 0:31",
        "OIL-BC Bar and chain oil bulk planned 0.95",
        "Photo 4: No spark on the tester, lead clipped to bare metal Shows finding F1 before · 4 Nov 2026, 10:12 · Ruben Hallorsen",
        "Signature · Odalys Thornquist",
        "carbon monoxide",
    ):
        assert fact in text.replace("  ", " "), fact


def test_the_tag_goes_when_every_hold_is_released() -> None:
    sheet = samples.repair_order()
    released = tuple(hold for hold in sheet.holds if hold.released)
    assert "UNSAFE" not in words_of(repair_order.draw(samples.repair_order(holds=released), samples.PICTURES).pdf)


def test_what_is_not_known_is_said() -> None:
    unit = replace(
        samples.SAW, serial="", serial_note="plate worn off", hours=None, hours_note="no meter", built_on=None
    )
    sheet = samples.repair_order(unit=unit, purchased_on=None, purchase_proof="", promised_on=None, accessories=())
    text = words_of(repair_order.draw(sheet, samples.PICTURES).pdf)
    for fact in (
        "Serial number none: plate worn off Built not known Hour meter no meter",
        "Bought not known (no proof)",
        "no day promised",
        "Left with it nothing",
    ):
        assert fact in text, fact


def test_eighty_photos_are_all_there() -> None:
    shots = [samples.photo(at, f"View {at}", tall=at % 3 == 0) for at in range(1, 81)]
    drawn = repair_order.draw(
        samples.repair_order(photos=tuple(shot for shot, _ in shots)),
        {shot.sha256: data for shot, data in shots},
    )
    text = words_of(drawn.pdf)
    assert all(f"Photo {at}: View {at} " in text for at in range(1, 81))
    assert drawn.pdf.count(b"/DCTDecode") == 80
    assert faults(drawn.pdf) == []
    assert len(page_words(drawn.pdf)) == drawn.pages
