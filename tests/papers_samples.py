"""Invented sheets for the tests and benchmarks of the papers. Every name, number and price is made up."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw

from orders.papers import bench_copy as bench_copy_drawing
from orders.papers import condition_report as condition_report_drawing
from orders.papers import credit_note as credit_note_drawing
from orders.papers import estimate as estimate_drawing
from orders.papers import estimate_change as estimate_change_drawing
from orders.papers import invoice as invoice_drawing
from orders.papers import repair_order as repair_order_drawing
from orders.papers import repair_summary as repair_summary_drawing
from orders.papers import statement as statement_drawing
from orders.papers.bench_copy import BenchCopySheet, BenchJob, BenchPoint
from orders.papers.condition_report import ConditionReportSheet, Remedy
from orders.papers.credit_note import CreditLine, CreditNoteSheet
from orders.papers.electronic import Electronic, ElectronicLine, ElectronicTax
from orders.papers.estimate import AnswerGiven, Choice, EstimateJob, EstimateSheet, PayerTotal, SaidLine, Way
from orders.papers.estimate_change import ChangedJob, ChangedLine, EstimateChangeSheet
from orders.papers.invoice import InvoiceJob, InvoiceSheet, OtherPayer, Payment
from orders.papers.legal import LegalField, LegalPaper
from orders.papers.lines import LabourLine, PartLine, TaxLine
from orders.papers.repair_order import CheckLine, FindingLine, FittedPart, Hold, OrderJob, RepairOrderSheet, WorkLine
from orders.papers.repair_summary import Mended, RepairSummarySheet
from orders.papers.statement import Entry, OpenItem, StatementSheet
from shopdocs.documents.press.facts import Assembly, Party, Photo, Signed, Unit
from shopdocs.documents.press.sheets import Currency, ShopBlock
from warranty.papers import claim as claim_drawing
from warranty.papers import part_tag as part_tag_drawing
from warranty.papers.claim import CausalPart, ClaimLabour, ClaimPart, ClaimPhoto, ClaimSheet, DecisionStep
from warranty.papers.part_tag import PartTagSheet

D = Decimal
SHOP = ShopBlock(
    name="Brindle Hollow Power Equipment",
    address=("214 Millrace Lane", "Corran Falls, VT 05999"),
    phone="802-555-0142",
    email="desk@brindlehollow.example",
    accent="#1f6f54",
)
DOLLARS = Currency(symbol="$", decimals=2)
CUSTOMER = Party(
    name="Odalys Thornquist",
    lines=("88 Quarry Road", "Corran Falls, VT 05999", "802-555-0177", "odalys@example.org"),
)
SAW = Unit(
    family="Chain saw",
    maker="Kestrelline",
    model="KL-462",
    serial="KL7-0049218",
    serial_note="",
    built_on=date(2024, 11, 18),
    hours=D("61.4"),
    hours_note="read at check-in",
    use_class="residential",
    power_source="petrol, two-stroke",
)
ENGINE = Assembly(
    name="Engine",
    maker="Vardø Motor",
    model="VM-61",
    serial="61-884120-C",
    built_on=date(2024, 10, 2),
    emission_label="family RVMXS.0612GA, 61 cc",
    distributor="Northfell Distribution",
)


def base(title: str, number: str, version: int = 0, paper: str = "letter") -> dict[str, object]:
    """The fields that all sheets share."""
    return {
        "paper": paper,
        "language": "en",
        "shop": SHOP,
        "number": number,
        "version": version,
        "issued_on": date(2026, 11, 9),
        "title": title,
        "code": f"https://desk.brindlehollow.example/r/{number.lower()}",
        "currency": DOLLARS,
    }


def labour(code: str, what: str, tenths: int, note: str = "") -> LabourLine:
    rate = D("95.00")
    return LabourLine(code=code, what=what, tenths=tenths, rate=rate, amount=rate * tenths / 10, note=note)


def part(number: str, what: str, quantity: str, each: str, condition: str = "new, original") -> PartLine:
    amount = (D(quantity) * D(each)).quantize(D("0.01"))
    return PartLine(number=number, what=what, condition=condition, quantity=D(quantity), each=D(each), amount=amount)


WARRANTY_JOB = EstimateJob(
    number=1,
    title="Replace ignition module",
    found="No spark at the plug on three tries with a tester. Module coil open: 1.9 MΩ against 2 to 5 kΩ in the "
    "service data. Flywheel key and stop switch are sound.",
    labour=(
        labour("IG-110", "Take off top cover and fan housing", 3),
        labour("IG-240", "Replace ignition module, set air gap", 4),
        labour("DG-010", "Find the cause of no spark", 5),
    ),
    parts=(
        part("KL-30-1182", "Ignition module", "1", "86.40"),
        part("KL-90-0007", "Screw, self-locking, M5 × 20", "2", "1.15"),
    ),
    payer="Warranty",
    basis="maker's two-year promise for residential use, to 2 May 2027; distributor Northfell Distribution",
    subtotal=D("202.70"),
)
CUSTOMER_JOBS = (
    EstimateJob(
        number=2,
        title="Season service",
        found="Air filter clogged, bar groove worn on one side, chain dull. Fuel in the tank is dark and smells stale.",
        labour=(
            labour("SV-020", "Season service, chain saw over 50 cc", 8),
            labour("SV-071", "Dress bar, sharpen chain", 4),
            labour("FU-015", "Drain stale fuel, rinse tank and lines", 3),
        ),
        parts=(
            part("KL-22-0410", "Air filter", "1", "14.95"),
            part("KL-22-0711", "Fuel filter, felt", "1", "7.80"),
            part("SP-118", "Spark plug, gap 0.5 mm", "1", "6.25", "new, not the maker's own"),
            part("OIL-BC", "Bar and chain oil", "0.95", "9.80", "new, bulk, by the litre"),
            part("DISP-F", "Disposal of old fuel", "1.5", "2.00", "service"),
        ),
        payer="Customer",
        basis="",
        subtotal=D("183.81"),
    ),
    EstimateJob(
        number=3,
        title="Replace rear handle mount",
        found="Rubber mount torn through; the handle moves 14 mm at the trigger. Cause: dropped, impact mark on the housing.",
        labour=(
            labour("CH-330", "Replace rear handle mount", 6),
            labour("CH-332", "Check chain brake and throttle lock", 2, "0.3 h saved: top cover off once, with job 2."),
        ),
        parts=(
            part("KL-41-2210", "Handle mount, rear", "1", "22.60"),
            part("KL-41-2212", "Sleeve", "2", "3.10"),
            part("KL-41-2299", "Screw set", "1", "5.45"),
            part("KL-90-0019", "Thread lock, single use", "1", "2.10"),
        ),
        payer="Customer",
        basis="",
        subtotal=D("112.35"),
        if_alone=("If only this job is agreed to: 1.1 h of labour, $140.85 before tax.",),
    ),
)


def estimate(paper: str = "letter", **changes: object) -> EstimateSheet:
    """Twenty lines over three jobs, one of them paid by the warranty; two pages."""
    made = EstimateSheet(
        **base("Estimate", "E-1042", 2, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        repair_order="RO-2231",
        valid_until=date(2026, 12, 9),
        request="It quit while I was limbing and will not start again. No spark, my brother says. Please also make it ready for winter.",
        jobs=(WARRANTY_JOB, *CUSTOMER_JOBS),
        taxes=(
            TaxLine(name="State sales tax", percent=D("6.00"), base=D("74.66"), amount=D("4.48")),
            TaxLine(name="Town tax", percent=D("1.00"), base=D("74.66"), amount=D("0.75")),
        ),
        payers=(
            PayerTotal(payer="Customer", net=D("296.16"), tax=D("5.23"), total=D("301.39")),
            PayerTotal(payer="Warranty", net=D("202.70"), tax=D("0.00"), total=D("202.70")),
        ),
        customer_total=D("301.39"),
        answer_how="Open the link, or scan the code below, and accept or decline each job. You can also call us, or come by.",
        answer_link="https://desk.brindlehollow.example/a/7q2f-kd93",
        terms=(
            "We do no work beyond this estimate before you have agreed to a new version of it. Old parts are yours on request.",
        ),
        cautions=("fuel", "kickback"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def invoice(paper: str = "letter", **changes: object) -> InvoiceSheet:
    """The same jobs as done, with a payment at the counter."""
    done = {
        1: "Replaced the ignition module, set the air gap to 0.3 mm with a gauge. Strong spark, three cold starts.",
        2: "Cleaned, filters and plug replaced, bar dressed, chain sharpened. Idle set to 2,700 rpm; chain stands still at idle.",
        3: "Replaced mount and sleeves. Chain brake stops the chain at once; throttle lock holds.",
    }
    jobs = tuple(
        InvoiceJob(
            number=job.number,
            title=job.title,
            correction=done[job.number],
            labour=job.labour,
            parts=job.parts,
            payer=job.payer,
            basis=job.basis,
            subtotal=job.subtotal,
            customer_pays=job.subtotal if job.payer == "Customer" else D("0.00"),
        )
        for job in (WARRANTY_JOB, *CUSTOMER_JOBS)
    )
    made = InvoiceSheet(
        **base("Invoice", "I-3017", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        repair_order="RO-2231",
        finished_on=date(2026, 11, 9),
        jobs=jobs,
        others=(
            OtherPayer(
                payer="Warranty", why="Job 1, claimed from Northfell Distribution as W-0412", amount=D("202.70")
            ),
        ),
        net=D("296.16"),
        taxes=(
            TaxLine(name="State sales tax", percent=D("6.00"), base=D("74.66"), amount=D("4.48")),
            TaxLine(name="Town tax", percent=D("1.00"), base=D("74.66"), amount=D("0.75")),
        ),
        total=D("301.39"),
        payments=(Payment(on=date(2026, 11, 9), how="card at the counter", amount=D("100.00")),),
        due=D("201.39"),
        due_on=date(2026, 11, 23),
        pay_how="By card or cash at the counter, or by bank transfer with the invoice number.",
        upkeep=(
            "Use fresh fuel mixed at the ratio in your manual, no older than 30 days; empty the tank before the winter rest.",
            "Clean the air filter after each day of cutting. Check the chain's tension cold.",
            "Next service: before the season, or after 50 hours.",
        ),
        terms=("Work is promised for 90 days. This does not shorten any right you have by law.",),
        cautions=("fuel", "kickback", "muffler", "noise"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


@functools.cache
def picture(name: str, width: int = 1000, height: int = 750) -> tuple[str, bytes]:
    """(key, JPEG): a still life made by code, different for each name."""
    seed = hashlib.sha256(name.encode()).digest()
    image = Image.new("RGB", (width, height), (200 + seed[0] % 40, 205, 200 + seed[1] % 40))
    pen = ImageDraw.Draw(image)
    for at in range(9):
        x, y, r = seed[at] * width // 256, seed[at + 9] * height // 256, 40 + seed[at + 18]
        pen.ellipse(
            (x - r, y - r, x + r, y + r), fill=(seed[at] // 2 + 40, seed[at + 1] // 2 + 50, seed[at + 2] // 2 + 60)
        )
    pen.rectangle(
        (width * 0.3, height * 0.42, width * 0.7, height * 0.58), fill=(236, 236, 230), outline=(60, 60, 60), width=4
    )
    pen.text((width * 0.33, height * 0.46), name, fill=(30, 30, 30), font_size=46)
    out = BytesIO()
    image.save(out, "JPEG", quality=82)
    return hashlib.sha256(name.encode()).hexdigest(), out.getvalue()


def photo(
    number: int, caption: str, moment: str = "before", shows: str = "", finding: str = "", tall: bool = False
) -> tuple[Photo, bytes]:
    key, data = picture(f"photo {number}", *((700, 1000) if tall else (1000, 750)))
    return Photo(
        sha256=key,
        number=number,
        caption=caption,
        who="Ruben Hallorsen",
        when="4 Nov 2026, 10:12",
        moment=moment,
        shows=shows,
        finding=finding,
    ), data


SHOTS = (
    photo(1, "The saw as it came in", "check-in"),
    photo(2, "Serial plate, legible", "check-in", "serial plate"),
    photo(3, "Hour meter reads 61.4", "check-in", "hour meter"),
    photo(4, "No spark on the tester, lead clipped to bare metal", "before", "", "F1"),
    photo(5, "Module removed; meter shows 1.9 MΩ", "before", "", "F1", tall=True),
    photo(6, "New module in place, gap set", "after", "", "F1"),
)
PHOTOS = tuple(shot for shot, _ in SHOTS)
PICTURES = {shot.sha256: data for shot, data in SHOTS}


def check(stage: str, name: str, precautions: tuple[str, ...], result: str, note: str = "") -> CheckLine:
    plain = result == "good"
    look = f"{name}: whole, tight, in its place, as the manual says."
    return CheckLine(stage=stage, name=name, look=look, precautions=precautions, result=result, plain=plain, note=note)


def repair_order(paper: str = "letter", **changes: object) -> RepairOrderSheet:
    """The saw from check-in to the last check, one hold open, one released."""
    cold = ("Engine stopped and cold, plug lead off.",)
    made = RepairOrderSheet(
        **base("Repair order", "RO-2231", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        received_on=date(2026, 11, 4),
        received_by="Imke Sorrow",
        promised_on=date(2026, 11, 11),
        unit=SAW,
        assemblies=(ENGINE,),
        purchased_on=date(2025, 5, 2),
        purchase_proof="receipt 40117, copy kept",
        complaint="It quit while I was limbing and will not start again. No spark, my brother says. Please also make it ready for winter.",
        accessories=("bar cover", "combination tool"),
        holds=(
            Hold(
                reason="Chain brake does not stop the chain",
                tagged_on=date(2026, 11, 4),
                tagged_by="Ruben Hallorsen",
                released="",
            ),
            Hold(
                reason="Fuel seeps at the tank vent",
                tagged_on=date(2026, 11, 4),
                tagged_by="Ruben Hallorsen",
                released="6 Nov 2026, Ruben Hallorsen: vent replaced, dry after an hour",
            ),
        ),
        checks=(
            check("Outside", "Serial plate and labels", cold, "good"),
            check("Outside", "Chain brake", (*cold, "Cut-proof gloves."), "see F2", "tagged"),
            check("Outside", "Fuel tank, cap and vent", (*cold, "No flame, no heater near."), "seeps at vent"),
            check("Outside", "Fuel sample", (*cold, "No flame, no heater near."), "good", "kept, marked RO-2231"),
            check("Covers off", "Spark plug and lead", cold, "see F1", "no spark, three tries"),
            check("Covers off", "Air filter", cold, "good"),
            check("Covers off", "Piston, through the exhaust port", cold, ""),
        ),
        findings=(
            FindingLine(
                mark="F1",
                component="Ignition module",
                condition="coil open",
                cause="defect in the part",
                measurement="1.9 MΩ (2 to 5 kΩ)",
                because_of="",
                note="Key, gap and stop switch are sound.",
            ),
            FindingLine(
                mark="F2",
                component="Rear handle mount",
                condition="torn through",
                cause="impact",
                measurement="14 mm play",
                because_of="F3: dropped on the housing",
                note="",
            ),
        ),
        jobs=(
            OrderJob(
                number=1,
                title="Replace the ignition module",
                complaint="No spark, will not start",
                cause="Ignition module, coil open",
                correction="Replaced the module, gap 0.3 mm.",
                payer="Warranty",
                state="done",
                work=(
                    WorkLine(
                        code="IG-110",
                        what="Take off top cover and fan housing",
                        tenths=3,
                        clocked_minutes=22,
                        technician="Ruben Hallorsen",
                    ),
                    WorkLine(
                        code="IG-240",
                        what="Replace ignition module, set air gap",
                        tenths=4,
                        clocked_minutes=31,
                        technician="Ruben Hallorsen",
                    ),
                ),
                parts=(
                    FittedPart(
                        number="KL-30-1182",
                        what="Ignition module",
                        condition="new, original",
                        quantity=D("1"),
                        state="fitted",
                    ),
                ),
            ),
            OrderJob(
                number=2,
                title="Make it ready for winter",
                complaint="",
                cause="",
                correction="",
                payer="Customer",
                state="agreed",
                work=(WorkLine(code="SV-020", what="Season service", tenths=8, clocked_minutes=None, technician=""),),
                parts=(
                    FittedPart(
                        number="KL-22-0410", what="Air filter", condition="new", quantity=D("1"), state="planned"
                    ),
                    FittedPart(
                        number="OIL-BC", what="Bar and chain oil", condition="bulk", quantity=D("0.95"), state="planned"
                    ),
                ),
            ),
        ),
        photos=PHOTOS,
        conditions=(
            "I leave the machine for inspection and repair as written here. Nothing beyond an agreed estimate is done without my consent.",
        ),
        cautions=("fuel", "ignition", "kickback", "exhaust"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def claim(paper: str = "letter", **changes: object) -> ClaimSheet:
    """The ignition module, claimed from the distributor with six photos."""
    made = ClaimSheet(
        **base("Warranty claim", "W-0412", 1, paper),  # type: ignore[arg-type]
        distributor=Party(
            name="Northfell Distribution", lines=("Claims desk", "Unit 9, Harbour Row", "claims@northfell.example")
        ),
        account="BH-0093",
        approval="",
        repair_order="RO-2231",
        owner=Party(name="Odalys Thornquist", lines=("Corran Falls, VT",)),
        unit=SAW,
        assemblies=(ENGINE,),
        purchased_on=date(2025, 5, 2),
        purchase_proof="receipt 40117",
        failed_on=date(2026, 11, 1),
        repaired_on=date(2026, 11, 9),
        causal=CausalPart(
            number="KL-30-1182",
            what="Ignition module",
            assembly="Engine VM-61",
            condition="coil open",
            cause="defect in the part",
            measurement="1.9 MΩ, service data 2 to 5 kΩ",
            held_as="tag PH-0088, shelf 3",
        ),
        complaint="Quit while cutting, no restart, no spark.",
        cause="Coil of the ignition module open circuit.",
        correction="Replaced the module, set the air gap to 0.3 mm, three cold starts.",
        found=("F1 Ignition module, coil open; 1.9 MΩ. No spark at a new plug with the stop lead taken off.",),
        answer="Covered",
        also=("Federal emission warranty, exhaust side; last day 2 May 2027 (that day is inside)",),
        term="Kestrelline promise for residential use, 2 years from purchase, edition of 1 Jan 2025",
        steps=(
            DecisionStep(
                question="Is the part one the promise names?",
                answer="yes",
                because="Ignition module belongs to the engine",
                source="Kestrelline promise, section 2",
            ),
            DecisionStep(
                question="Did it fail within two years of purchase?",
                answer="yes",
                because="bought 2 May 2025, failed 1 Nov 2026, last day 2 May 2027",
                source="Kestrelline promise, section 1",
            ),
            DecisionStep(
                question="Is the use residential?",
                answer="yes",
                because="told at check-in, 61.4 h in 18 months",
                source="Kestrelline promise, section 1",
            ),
            DecisionStep(
                question="Was it caused by misuse, accident or missing upkeep?",
                answer="no",
                because="impact mark is on the rear handle; housing over the module is whole",
                source="40 CFR 1068.115(a)",
            ),
        ),
        labour=(
            ClaimLabour(
                code="IG-110", what="Take off top cover and fan housing", tenths=3, basis="distributor's guide"
            ),
            ClaimLabour(
                code="IG-240",
                what="Replace ignition module, set air gap",
                tenths=4,
                basis="distributor's guide; cover shared with IG-110",
            ),
            ClaimLabour(code="DG-010", what="Find the cause of no spark", tenths=5, basis="clocked, 31 min"),
        ),
        labour_tenths=12,
        labour_rate=D("72.00"),
        time_basis="guide hours, diagnosis as clocked",
        left_out="0.3 h left out: top cover off once, asked for with claim W-0411",
        labour_amount=D("86.40"),
        parts=(
            ClaimPart(number="KL-30-1182", what="Ignition module", quantity=D("1"), each=D("58.20"), amount=D("64.02")),
            ClaimPart(
                number="KL-90-0007", what="Screw, self-locking", quantity=D("2"), each=D("0.70"), amount=D("1.54")
            ),
        ),
        parts_percent=D("110"),
        parts_amount=D("65.56"),
        expected=D("151.96"),
        deadline=date(2026, 12, 9),
        deadline_basis="30 days after repair",
        photos=PHOTOS,
        declaration=(
            "The facts above are true to our knowledge. The failed part is kept until you release it. The photos show this machine and are unaltered.",
        ),
        declared_by="Imke Sorrow, office",
        cautions=(),
    )
    made = replace(made, **changes)  # type: ignore[arg-type]
    claimed = (one if isinstance(one, ClaimPhoto) else ClaimPhoto(**vars(one)) for one in made.photos)
    return replace(made, photos=tuple(claimed))


def credit_note(paper: str = "letter", **changes: object) -> CreditNoteSheet:
    """A plug that was charged and not fitted, and labour of one operation, taken back from the invoice."""
    made = CreditNoteSheet(
        **base("Credit note", "CN-0031", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        invoice="I-3017",
        invoice_on=date(2026, 11, 9),
        reason="The spark plug was charged and not fitted; the stale fuel had been drained by the customer.",
        lines=(
            CreditLine(code="SP-118", what="Spark plug, gap 0.5 mm", quantity=D("1"), amount=D("6.25")),
            CreditLine(code="FU-015", what="Drain stale fuel, hours", quantity=D("0.3"), amount=D("28.50")),
        ),
        net=D("34.75"),
        taxes=(
            TaxLine(name="State sales tax", percent=D("6.00"), base=D("6.25"), amount=D("0.38")),
            TaxLine(name="Town tax", percent=D("1.00"), base=D("6.25"), amount=D("0.06")),
        ),
        total=D("35.19"),
        settled="Set against what is open on I-3017.",
        invoice_total=D("301.39"),
        left=D("266.20"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def electronic_credit_note(paper: str = "letter", **changes: object) -> CreditNoteSheet:
    """The credit note of a shop that encloses it as XML too: one tax of 7 % on the plug."""
    made = credit_note(paper)
    tax = TaxLine(name="Sales tax", percent=D("7.00"), base=D("6.25"), amount=D("0.44"))
    plug = ElectronicLine(
        words="Spark plug <0.5 mm>", quantity=D(1), unit="C62", price=D("6.25"), net=D("6.25"), rate=D("7.00")
    )
    fuel = ElectronicLine(
        words="Drain stale fuel", quantity=D("0.3"), unit="HUR", price=D("95.00"), net=D("28.50"), rate=D(0)
    )
    electronic = Electronic(
        currency="USD",
        seller_address=made.shop.address,
        seller_country="US",
        seller_tax_id="US123456789",
        buyer_address=CUSTOMER.lines[:2],
        buyer_country="US",
        lines=(plug, fuel),
        taxes=(
            ElectronicTax(rate=D("7.00"), base=D("6.25"), amount=D("0.44"), reason=""),
            ElectronicTax(rate=D(0), base=D("28.50"), amount=D("0.00"), reason="Not taxed"),
        ),
        net=made.net,
        tax=D("0.44"),
        total=made.total,
        prepaid=D("0.00"),
        due=made.total,
    )
    return replace(made, taxes=(tax,), electronic=electronic, **changes)  # type: ignore[arg-type]


def statement(paper: str = "letter", **changes: object) -> StatementSheet:
    """A quarter of one customer: carried over, asked, paid, credited, one invoice overdue."""
    made = StatementSheet(
        **base("Statement", "ST-0009", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        since=date(2026, 10, 1),
        until=date(2026, 12, 31),
        carried=D("40.00"),
        entries=(
            Entry(on=date(2026, 10, 6), what="Payment", note="cash", asked=None, received=D("40.00"), balance=D("0.00")),
            Entry(on=date(2026, 11, 9), what="Invoice I-3017", note="RO-2231", asked=D("301.39"), received=None, balance=D("301.39")),
            Entry(on=date(2026, 11, 9), what="Payment", note="card", asked=None, received=D("100.00"), balance=D("201.39")),
            Entry(on=date(2026, 11, 12), what="Credit note CN-0031", note="for I-3017", asked=None, received=D("35.19"), balance=D("166.20")),
        ),
        asked=D("301.39"),
        received=D("175.19"),
        items=(OpenItem(number="I-3017", due_on=date(2026, 11, 23), days_over=38, open=D("166.20")),),
        open=D("166.20"),
        overdue=D("166.20"),
        pay_how="By card or cash at the counter, or by bank transfer with the invoice number.",
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def repair_summary(paper: str = "letter", **changes: object) -> RepairSummarySheet:
    """What the customer takes home with the saw."""
    made = RepairSummarySheet(
        **base("Repair summary", "RO-2231", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        repair_order="RO-2231",
        finished_on=date(2026, 11, 9),
        complaint="It quit while I was limbing and will not start again.",
        jobs=(
            Mended(
                title="Replace ignition module",
                found=("Ignition module: coil open. Cause: defect in the part.",),
                done="Replaced the module, set the air gap to 0.3 mm. Strong spark, three cold starts.",
                parts=("Ignition module KL-30-1182",),
                left="",
            ),
            Mended(
                title="Replace rear handle mount",
                found=("Rear handle mount: torn through. Cause: impact.",),
                done="",
                parts=(),
                left="You declined it on 6 Nov 2026. The handle moves at the trigger: have it done before the season.",
            ),
        ),
        photos=PHOTOS[3:],
        watch=("The handle mount is still torn: stop if the handle moves more.",),
        upkeep=("Fresh fuel, no older than 30 days.", "Clean the air filter after each day of cutting."),
        cautions=("fuel", "kickback"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def bench_copy(paper: str = "letter", **changes: object) -> BenchCopySheet:
    """The saw on its way to the bench: nothing measured yet but the fuel."""
    order = repair_order()
    made = BenchCopySheet(
        **base("Bench copy", "RO-2231", 0, paper),  # type: ignore[arg-type]
        received_on=order.received_on,
        promised_on=order.promised_on,
        unit=SAW,
        assemblies=(ENGINE,),
        complaint=order.complaint,
        accessories=order.accessories,
        holds=order.holds,
        points=tuple(
            BenchPoint(check=one if one.name == "Fuel sample" else replace(one, result=""), units=("mm", "in"))
            for one in order.checks
        ),
        findings=order.findings[:1],
        jobs=(
            BenchJob(number=1, title="Replace ignition module", agreed=True, work=("IG-240, 0.4 h",), parts=("1 x KL-30-1182 Ignition module",)),
            BenchJob(number=2, title="Season service", agreed=False, work=("SV-020, 0.8 h",), parts=()),
        ),
        cautions=("fuel", "ignition", "kickback"),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def estimate_change(paper: str = "letter", **changes: object) -> EstimateChangeSheet:
    """Version 2 finds a clutch, drops the handle mount, and asks less for the service."""
    made = EstimateChangeSheet(
        **base("Change to an estimate", "E-1042", 2, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        repair_order="RO-2231",
        replaces=1,
        replaced_on=date(2026, 11, 5),
        jobs=(
            ChangedJob(
                number=4, title="Replace clutch springs", state="new", why="Found with the covers off: one spring broken.",
                payer_before="", payer_now="Customer",
                lines=(ChangedLine(code="CL-210", what="Replace clutch springs", before=None, now=D("38.00")),),
                before=None, now=D("38.00"),
            ),
            ChangedJob(
                number=3, title="Replace rear handle mount", state="dropped", why="You asked us to leave it.",
                payer_before="Customer", payer_now="",
                lines=(ChangedLine(code="CH-330", what="Replace rear handle mount", before=D("57.00"), now=None),),
                before=D("57.00"), now=None,
            ),
            ChangedJob(
                number=1, title="Replace ignition module", state="changed", why="",
                payer_before="Customer", payer_now="Warranty",
                lines=(ChangedLine(code="DG-010", what="Find the cause of no spark", before=D("47.50"), now=D("28.50")),),
                before=D("47.50"), now=D("28.50"),
            ),
        ),
        unchanged=("Job 2, Season service",),
        before=D("301.39"),
        now=D("234.89"),
        difference=D("-66.50"),
        answer_how="Please tell us job by job what we shall do. The earlier version can no longer be answered.",
        cautions=("fuel",),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def condition_report(paper: str = "letter", **changes: object) -> ConditionReportSheet:
    """A used saw for somebody who thinks of buying it."""
    order = repair_order()
    made = ConditionReportSheet(
        **base("Condition report", "CR-0012", 0, paper),  # type: ignore[arg-type]
        customer=CUSTOMER,
        unit=SAW,
        assemblies=(ENGINE,),
        safe_to_run=False,
        summary="A sound engine in a saw that was dropped. The chain brake must be mended before it runs.",
        checks=order.checks,
        findings=order.findings,
        remedies=(
            Remedy(mark="F1", what="Replace ignition module", must=False, amount=D("202.70")),
            Remedy(mark="F2", what="Replace rear handle mount, check chain brake", must=True, amount=D("112.35")),
            Remedy(mark="F3", what="Dress bar", must=False, amount=None),
        ),
        must_cost=D("112.35"),
        cost=None,
        photos=PHOTOS,
        looked_at_by="Ruben Hallorsen",
        cautions=("fuel", "kickback"),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def part_tag(paper: str = "letter", **changes: object) -> PartTagSheet:
    """The ignition module on its shelf."""
    made = PartTagSheet(
        **base("Failed part", "PH-0088", 0, paper),  # type: ignore[arg-type]
        part="1 x failed Ignition module (KL-30-1182), failed first",
        claim="W-0412",
        repair_order="RO-2231",
        distributor="Northfell Distribution",
        unit=SAW,
        repaired_on=date(2026, 11, 9),
        keep_until=date(2026, 12, 24),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


SIGNATURE, SIGNED = picture("signature", 420, 140)
PICTURES[SIGNATURE] = SIGNED


def electronic_invoice(paper: str = "letter", **changes: object) -> InvoiceSheet:
    """The invoice of a shop that encloses it as XML too: one tax of 7 % on the parts."""
    made = invoice(paper)
    tax = TaxLine(name="Sales tax", percent=D("7.00"), base=D("74.66"), amount=D("5.23"))
    electronic = Electronic(
        currency="USD",
        seller_address=made.shop.address,
        seller_country="US",
        seller_tax_id="US123456789",
        buyer_address=CUSTOMER.lines[:2],
        buyer_country="US",
        lines=(
            ElectronicLine(
                words="Season service & <small> things", quantity=D("2.3"), unit="HUR", price=D("95.00"), net=D("218.50"), rate=D(0)
            ),
            ElectronicLine(words="Disposal", quantity=D(1), unit="C62", price=D("3.00"), net=D("3.00"), rate=D(0)),
            ElectronicLine(words="Parts", quantity=D(1), unit="C62", price=D("74.66"), net=D("74.66"), rate=D("7.00")),
        ),
        taxes=(
            ElectronicTax(rate=D("7.00"), base=D("74.66"), amount=D("5.23"), reason=""),
            ElectronicTax(rate=D(0), base=D("221.50"), amount=D("0.00"), reason="Not taxed"),
        ),
        net=made.net,
        tax=D("5.23"),
        total=made.total,
        prepaid=made.total - made.due,
        due=made.due,
    )  # fmt: skip
    return replace(made, taxes=(tax,), electronic=electronic, **changes)  # type: ignore[arg-type]


def estimate_answered(paper: str = "letter", **changes: object) -> EstimateSheet:
    """The estimate with everything that it can carry: reasons, photos, ways to choose, what a law wants, two answers."""
    made = estimate(paper)
    first, *others = made.jobs
    told = replace(
        first,
        why_now="The module fails when it is hot, and the saw then stops in the cut.",
        if_not="It will stop more and more often, and one day in a tree.",
        unsafe=True,
        photos=PHOTOS[3:5],
        if_refused=(
            "If the warranty does not pay for job 1, what shall we do?",
            "I pay for it myself, up to the amount that I enter here, tax included.",
            "Ask me first. Until I have answered, nothing is done at my cost.",
            "Give me the machine back unrepaired. I pay nothing for this job.",
            "If I choose nothing, nothing of this job is ever charged to me.",
        ),
    )
    ways = (
        Way(name="Repair", kind="Repair", jobs="1", customer_pays=D("0.00"), value_after=D("240.00"), price_new=None, note=""),
        Way(
            name="Repair with the wear items", kind="Repair with the wear items", jobs="1, 2, 3",
            customer_pays=D("221.47"), value_after=D("310.00"), price_new=None, note="Bar and chain are new then.",
        ),
        Way(
            name="A new saw", kind="Replace the machine", jobs="", customer_pays=D("0.00"), value_after=None,
            price_new=D("629.00"), note="We take the old one for its parts.",
        ),
    )  # fmt: skip
    law = LegalPaper(
        binds="suppliers of any consumer repair or service",
        source="a code section that was read (edition of 2024)",
        limit="10 % over the estimate",
        fields=(
            LegalField(name="date", value="9 Nov 2026"),
            LegalField(name="identity of the supplier", value="Brindle Hollow Power Equipment, 214 Millrace Lane"),
            LegalField(name="anticipated cost", value="$221.47"),
            LegalField(name="reasonably expected completion date", value="__________________"),
        ),
    )
    called = AnswerGiven(
        how="by telephone 802-555-0177, 10 Nov 2026, 9:20, read back",
        who="Odalys Thornquist",
        when="10 Nov 2026, 9:24",
        remark="",
        lines=(
            SaidLine(
                job=1,
                said="accepted",
                words="I ask Brindle Hollow Power Equipment to do job 1, Replace ignition module. Warranty is to pay for it ($202.70), not I.",
                more="If the warranty does not pay for job 1, what shall we do? Ask me first.",
            ),
        ),
        consent="",
        signed=None,
    )
    came = AnswerGiven(
        how="here in the shop",
        who="Odalys Thornquist",
        when="10 Nov 2026, 16:40",
        remark="Please keep the old bar for me.",
        lines=(
            SaidLine(
                job=2,
                said="accepted",
                words="I ask Brindle Hollow Power Equipment to do job 2, Season service.",
                more="",
            ),
            SaidLine(job=3, said="declined", words="I ask Brindle Hollow Power Equipment to leave job 3.", more=""),
        ),
        consent="Agreed on 10 Nov 2026, 16:39: I agree to get this estimate by e-mail.",
        signed=Signed(sha256=SIGNATURE, name="Odalys Thornquist", when="10 Nov 2026, 16:40"),
    )
    full = replace(
        made,
        title="Answered estimate",
        jobs=(told, *others),
        options=(Choice(between="The saw", ways=ways),),
        legal=(law,),
        given=(called, came),
        seen=hashlib.sha256(b"facts").hexdigest(),
    )
    return replace(full, **changes)  # type: ignore[arg-type]


ALL_PAPERS: dict[str, tuple[Any, Callable[[], Any]]] = {
    "repair order": (repair_order_drawing, repair_order),
    "estimate": (estimate_drawing, estimate),
    "estimate answered": (estimate_drawing, estimate_answered),
    "invoice": (invoice_drawing, invoice),
    "claim": (claim_drawing, claim),
    "credit note": (credit_note_drawing, credit_note),
    "statement": (statement_drawing, statement),
    "repair summary": (repair_summary_drawing, repair_summary),
    "bench copy": (bench_copy_drawing, bench_copy),
    "estimate change": (estimate_change_drawing, estimate_change),
    "condition report": (condition_report_drawing, condition_report),
    "part tag": (part_tag_drawing, part_tag),
}
"""Name -> (module that draws it, what makes a sample sheet), for every paper."""
