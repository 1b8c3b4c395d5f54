"""Orders as chance has them, made through the shop's own services: the same seed makes the same orders.

Three shops with the currencies of none, two and three decimals; operations that share steps; parts by the piece, foot and
litre; discounts, fees, several payers, certificates; deposits; claims on a maker's promise.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import random
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.utils import timezone

from orders.models import Customer, Estimate, Invoice, Job, PurchaseProof, RepairOrder
from orders.services import catalogue, charges
from orders.services.answers import take_answers
from orders.services.bench import finish_job, fit_part
from orders.services.checkin import Visit, check_in
from orders.services.estimates import issue_estimate
from orders.services.fees import add_fee
from orders.services.findings import create_finding
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job, change_job
from orders.services.payments import record_deposit
from orders.services.splits import set_split
from orders.services.time import enter_time
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff, User
from shopdocs.shops.rates import set_labour_rate, set_tax_rate
from shopdocs.shops.services import open_shop
from warranty.models import Claim
from warranty.services.basis import set_job_payer_from_decision
from warranty.services.claims import file_claim
from warranty.services.decide import decide_order
from warranty.services.distributor_terms import record_distributor_terms
from warranty.services.terms import record_term

D = Decimal
LONG_AGO = dt.date(2020, 1, 1)
CURRENCIES = (("USD", 2, "$", "letter"), ("JPY", 0, "¥", "a4"), ("KWD", 3, "KD ", "a4"))
NAMES = ("Imke Dorran", "José Ñúñez de la Cruz", "Åsa Brøgger", "Zoë D'Arcy & Söhne", "Wilma Orton")
WORK = ("Season service", "Sharpen chain", "Free the carburettor", "Rebuild the starter", "Find the leak")
PIECES = (
    "Spark plug",
    "Fuel line, by the foot",
    "Bar oil, by the litre",
    "Air filter",
    "Screw M5 × 20",
    "Starter rope",
)
PROMISE: dict[str, Any] = {
    "id": "tarnbeck-house", "version": 1, "title": "Tarnbeck household promise", "giver": "maker", "giver_name": "Tarnbeck",
    "source": {"cite": "Tarnbeck card", "edition": "2026", "address": "in the box", "confidence": "invented"},
    "components": {"all": True}, "period": {"months": 36}, "use_classes": ["residential"],
    "pays": {"parts": True, "labour": True, "diagnosis": True},
}  # fmt: skip


@dataclass
class Floor:
    """A shop at work: its chance, its catalogue, and until when there is time for work that was not clocked yet."""

    shop: Shop
    owner: Staff
    chance: random.Random
    model: Any = None
    operations: list[Any] = field(default_factory=list)
    parts: list[Any] = field(default_factory=list)
    free_until: dt.datetime = field(default_factory=timezone.now)
    count: int = 0

    @property
    def who(self) -> dict[str, Any]:
        return {"shop": self.shop, "by": self.owner}

    def amount(self, most: int, decimals: int | None = None, least: int = 1) -> Decimal:
        """Up to `most` whole units, with the decimals of the shop's currency unless said."""
        places = self.shop.currency_decimals if decimals is None else decimals
        return D(self.chance.randint(least, most * 10**places)).scaleb(-places)

    def often(self, percent: int) -> bool:
        return self.chance.randrange(100) < percent


def floors(seed: int | str) -> list[Floor]:
    """The three shops, each with a catalogue of its own."""
    return [_floor(random.Random(f"{seed} {code[0]}"), *code) for code in CURRENCIES]


def _floor(chance: random.Random, code: str, decimals: int, symbol: str, paper: str) -> Floor:
    shop = open_shop(
        slug=f"shop-{code.lower()}", name=f"Shop of {code}", owner=User.objects.create(username=f"owner-{code.lower()}", first_name="Ottilie"), street="14 Quarry Lane", region="OH",
        time_zone="America/New_York", currency=code, currency_decimals=decimals, currency_symbol=symbol, paper=paper,
        tax_basis=chance.choice(("item", "invoice")),
    )  # fmt: skip
    floor = Floor(shop, Staff.objects.select_related("user", "shop").get(shop=shop), chance)
    _rates(floor)
    _catalogue(floor)
    return floor


def _rates(floor: Floor) -> None:
    for payer, per_hour in (("", "80"), ("customer", "95.1250"), ("warranty", "71.5"), ("goodwill", "60")):
        set_labour_rate(by=floor.owner, payer=payer, per_hour=D(per_hour), starts_on=LONG_AGO)
    set_labour_rate(by=floor.owner, payer="", skill="helper", per_hour=D("42.3333"), starts_on=LONG_AGO)
    for name, percent, kinds in (
        ("State tax", "6.5", ["part", "supplies"]),
        ("Town tax", "0.8125", ["part", "labour"]),
    ):
        set_tax_rate(
            by=floor.owner, name=name, percent=D(percent), on_kinds=kinds, on_payers=["customer"], starts_on=LONG_AGO
        )  # fmt: skip
    charges.set_terms(
        **floor.who, starts_on=LONG_AGO, supplies_percent=D("3.5"), supplies_cap=floor.amount(20, least=2),
        class_discounts={"crew": D("5"), "rental_yard": D("12.5")}, minimum_labour=floor.amount(30), diagnosis_limit=D("1.5"),
        tax_stacking=floor.chance.choice(("aggregated", "separate")),
    )  # fmt: skip


def _catalogue(floor: Floor) -> None:
    who = floor.who
    distributor = catalogue.create_distributor(
        **who, facts={"name": "Northfell Distribution", "account": "A-77", "labour_rounding": "up"}
    )
    maker = catalogue.create_maker(
        **who, facts={"name": "Tarnbeck", "authorised": True, "approval_before_work": False, "distributor": distributor.pk}
    )  # fmt: skip
    floor.model = catalogue.create_model(
        **who,
        facts={"maker": maker.pk, "name": "KX 100", "family": "saw", "power_source": "two_stroke", "hand_held": True},
    )
    record_term(**who, term=PROMISE, maker=maker.pk)
    record_distributor_terms(
        **who, distributor=distributor.pk, starts_on=LONG_AGO, labour_rate=floor.amount(99, least=30), time_basis="guide",
        diagnosis_limit=D("0.5"), parts_percent=D("87.5"), parts_base="list", filing_days=30, parts_hold_days=60,
        answer_days=20, source="dealer letter, invented",
    )  # fmt: skip
    for key, minutes, needs in (("cover", "7.5", []), ("housing", "11", ["cover"]), ("module", "16.25", ["housing"]),
                                ("clutch", "22", ["housing"]), ("gap", "4", [])):  # fmt: skip
        catalogue.create_step(**who, facts={"key": key, "words": f"{key} off", "minutes": D(minutes), "needs": needs})
    for code, words, hours, steps in (
        ("IG-240", "Replace ignition module", "0.7", ["module", "gap"]), ("CL-210", "Replace clutch springs", "0.7", ["clutch"]),
        ("SV-020", "Clean under the housing", "0.3", ["housing"]), ("BR-100", "Sharpen bar and chain", "0.4", []),
    ):  # fmt: skip
        facts = {
            "code": code,
            "words": words,
            "family": "saw",
            "hours": D(hours),
            "steps": steps,
            "source": "guide 2026",
        }
        floor.operations.append(catalogue.create_operation(**who, facts=facts))
    for at, words in enumerate(PIECES):
        facts = {
            "number": f"KL-{at:02}-{floor.chance.randrange(9999):04}", "words": words, "maker": maker.pk,
            "list_price": floor.amount(90, 3), "cost": floor.amount(60, 3), "component": "",
            "core_charge": floor.amount(9, least=0) if at % 3 == 0 else D(0),
        }  # fmt: skip
        floor.parts.append(catalogue.create_part(**who, facts=facts))


def order_at(floor: Floor, *, owner: dict[str, Any] | None = None) -> RepairOrder:
    """A machine with a serial of its own comes in, forty days ago."""
    chance = floor.chance
    floor.count += 1
    day = floor.shop.today() - dt.timedelta(days=40)
    customer = {
        "name": chance.choice(NAMES), "language": chance.choice(("en", "en", "es")),
        "kind": chance.choice([str(kind) for kind in Customer.Kind.values]),
    } | ({"tax_exempt": True, "tax_certificate": f"EX-{floor.count}"} if floor.often(10) else {}) | (owner or {})  # fmt: skip
    bought = day - dt.timedelta(days=chance.randrange(30, 300))
    unit = {
        "model": floor.model.pk, "serial": f"{chance.randrange(10**9):09}-{floor.count}", "use_class": "residential",
        "first_owner": True, "purchased_on": bought, "delivered_on": bought, "sale_kind": "new", "modified": False,
        "use_region": "OH", "build_date": bought - dt.timedelta(days=60), "has_hour_meter": True,
    }  # fmt: skip
    return check_in(
        **floor.who,
        visit=Visit(
            new_customer=customer, new_unit=unit, hours={"hours": floor.amount(1500, 1)},
            complaint="It stops when it is warm.", received_on=day,
        ),
    )  # fmt: skip


def a_job(floor: Floor, order: RepairOrder, **given: Any) -> Job:
    """A job of one to four labour lines and up to five parts, with whatever else chance puts on it."""
    chance = floor.chance
    chosen = chance.sample(floor.operations, chance.randint(0, 3))
    labour: list[dict[str, Any]] = [{"operation": one.pk} for one in chosen]
    if not labour or floor.often(40):
        line = {"words": chance.choice(WORK), "hours": floor.amount(4, 1), "diagnosis": floor.often(25)}
        labour.append(line | ({"skill": "helper"} if floor.often(25) else {}))
    if floor.often(30):
        labour[-1] |= {"rate": floor.amount(120, 4, least=100_000)}
    if floor.often(25):
        labour[0] |= {"discount_percent": floor.amount(60, 4)}
    parts: list[dict[str, Any]] = []
    for _ in range(chance.randint(0, 5)):
        piece = {"part": chance.choice(floor.parts).pk} if floor.often(60) else {
            "words": chance.choice(PIECES), "unit_price": floor.amount(2500, 3), "number": f"X{chance.randrange(999)}"
        }  # fmt: skip
        parts.append(piece | {"quantity": floor.amount(20, chance.choice((0, 0, 1, 3)))})
        if floor.often(20):
            parts[-1] |= {"discount_percent": floor.amount(100, 4)}
    job = add_job(
        **floor.who, order_id=order.pk, title=f"{chance.choice(WORK)} {order.number}", labour=labour, parts=parts, **given
    )  # fmt: skip
    _charges(floor, job)
    return job


def _charges(floor: Floor, job: Job) -> None:
    """Fees, a credit, a discount on the job, several payers. A discount over the price is refused, and left away."""
    chance = floor.chance
    if floor.often(30):
        add_fee(
            **floor.who,
            job_id=job.pk,
            kind=chance.choice(("freight", "disposal", "fee")),
            words="Fee",
            amount=floor.amount(40),
        )
    if floor.often(10):
        add_fee(**floor.who, job_id=job.pk, kind="fee", words="Credit for waiting", amount=-floor.amount(2))
    if floor.often(25):
        cut = {"discount_percent": floor.amount(50, 4)} if floor.often(50) else {"discount_amount": floor.amount(15)}
        with contextlib.suppress(Refused):
            change_job(**floor.who, job_id=job.pk, version=_version(job), changes=cut | {"discount_words": "Regular"})
    if floor.often(25):
        shares: list[dict[str, Any]] = [{"payer": "customer", "percent": floor.amount(99, 4)}, {"payer": "shop"}]
        if floor.often(40):
            shares = [{"payer": "customer", "amount": floor.amount(60)}, {"payer": "goodwill"}]
        set_split(**floor.who, job_id=job.pk, version=_version(job), shares=shares)
    elif floor.often(10):
        set_split(**floor.who, job_id=job.pk, version=_version(job), payer_of={"labour": "shop"})


def _version(job: Job) -> int:
    version: int = Job.objects.for_shop(job.shop).get(pk=job.pk).version
    return version


def an_order(floor: Floor) -> RepairOrder:
    """An order with one to three jobs of the customer."""
    order = order_at(floor)
    for _ in range(floor.chance.randint(1, 3)):
        a_job(floor, order)
    return order


def agreed(floor: Floor, order: RepairOrder) -> Estimate:
    """A version of the estimate, and every job of it accepted."""
    estimate = issue_estimate(**floor.who, order_id=order.pk)
    jobs = Job.objects.for_shop(floor.shop).filter(order=order, state__in=["proposed", "agreed"])
    return take_answers(
        **floor.who, estimate_id=estimate.pk, channel="in_person", said_by=order.customer.name, words="signed, folder 3",
        answers=[{"job": job.pk, "accepted": True} for job in jobs],
    )  # fmt: skip


def done(floor: Floor, job: Job) -> None:
    """The parts fitted, time typed, the job finished."""
    for part in job.parts.filter(fitted_at=None):
        fit_part(**floor.who, part_id=part.pk)
    if job.labour.exists():
        end, floor.free_until = floor.free_until, floor.free_until - dt.timedelta(minutes=floor.chance.randint(1, 45))
        enter_time(**floor.who, job_id=job.pk, started_at=floor.free_until, ended_at=end)
    finish_job(**floor.who, job_id=job.pk, correction="Done as agreed; three cold starts.")


def finished(floor: Floor, order: RepairOrder) -> None:
    for job in Job.objects.for_shop(floor.shop).filter(order=order, state="agreed"):
        done(floor, job)
    finish_order(**floor.who, order_id=order.pk)


def an_invoice(floor: Floor) -> Invoice:
    """Agreed, perhaps paid in part ahead, done with what was agreed or less, billed."""
    order = an_order(floor)
    estimate = agreed(floor, order)
    if floor.often(30) and estimate.customer_total > 1:
        ahead = D(int(estimate.customer_total / 2)) or D(1)
        record_deposit(**floor.who, order_id=order.pk, amount=ahead, means="cash")
    finished(floor, order)
    return issue_invoice(**floor.who, order_id=order.pk, due_days=floor.chance.choice((0, 14)))


def a_claim(floor: Floor) -> Claim:
    """A part that failed by a defect, covered by the maker's promise, repaired, claimed."""
    order = order_at(floor, owner={"language": "en"})
    PurchaseProof.objects.create(
        shop=floor.shop, unit=order.unit, kind="receipt", shows_date=order.unit.purchased_on
    )  # the picture of it is not what is tried here
    finding = create_finding(
        **floor.who, order_id=order.pk,
        facts={"component": "ignition_module", "condition": "dead", "cause": "defect", "measured": floor.amount(9, 2), "measured_unit": "kohm"},
    )  # fmt: skip
    chance = floor.chance
    labour = [{"operation": one.pk} for one in chance.sample(floor.operations, chance.randint(1, 4))]
    if floor.often(30):
        labour.append({"words": "Find the fault", "hours": floor.amount(2, 1), "diagnosis": True})
    parts = [
        {"part": one.pk, "quantity": floor.amount(5, chance.choice((0, 3))), "causal": not at}
        for at, one in enumerate(chance.sample(floor.parts, chance.randint(1, 4)))
    ]
    job = add_job(
        **floor.who, order_id=order.pk, title="Replace the module", findings=[finding.pk], labour=labour, parts=parts
    )
    (decision,) = decide_order(**floor.who, order=order)
    job = set_job_payer_from_decision(**floor.who, job=job, decision=decision, note="told by the maker's desk")
    agreed(floor, order)
    done(floor, Job.objects.for_shop(floor.shop).get(pk=job.pk))
    return file_claim(**floor.who, job=job.pk)


def done_in_part(floor: Floor, order: RepairOrder) -> None:
    """Some jobs of the order done, the others still to be done."""
    for job in Job.objects.for_shop(floor.shop).filter(order=order, state="agreed"):
        if floor.often(60):
            done(floor, job)
