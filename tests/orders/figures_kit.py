"""An order with every kind of charge, in any currency; and a walk over every money figure of frozen facts, each with its name."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from orders.models import Job, LabourOperation, Part, RepairOrder
from orders.models.catalogue import WorkStep
from orders.services.charges import set_terms
from orders.services.fees import add_fee
from orders.services.invoice_lines import all_lines
from orders.services.jobs import change_job
from orders.services.options import add_option
from orders.services.payments import record_deposit
from orders.services.splits import set_split
from shopdocs.money import Currency, round_money
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from tests.orders.back_kit import season_service, sharpening
from tests.sums import done_again

D = Decimal
Facts = dict[str, Any]
Path = tuple[Any, ...]
USD, JPY, KWD = Currency("USD", 2, "$"), Currency("JPY", 0, "¥"), Currency("KWD", 3)
SIZE = {"USD": D(1), "JPY": D(100), "KWD": D("0.31")}


def rich_order(shop: Shop, by: Staff, order: RepairOrder, currency: Currency = USD, **terms: Any) -> list[Job]:
    """Five jobs: every kind of charge and discount; one that four shares make; labour and parts of two payers; goodwill; another."""

    def m(amount: str) -> Decimal:
        return round_money(D(amount) * SIZE[currency.code], currency)

    def fine(price: str) -> Decimal:
        return (D(price) * SIZE[currency.code]).quantize(D("0.0001"))

    shop.currency, shop.currency_decimals, shop.currency_symbol = currency.code, currency.decimals, currency.symbol
    shop.save()
    day = shop.today().replace(day=1)
    for payer, skill, rate in (("", "", "80"), ("customer", "", "95"), ("", "helper", "51.3333")):
        LabourRate.objects.create(shop=shop, payer=payer, skill=skill, per_hour=fine(rate), starts_on=day)
    for name, percent, kinds, payers in (
        ("County tax", "7.25", ["part", "labour", "core"], ["customer"]),
        ("State tax", "5.75", ["part", "labour", "supplies", "core", "freight", "fee", "disposal"], ["customer", "goodwill"]),
        ("City tax", "0.625", ["labour"], ["customer"]),
    ):  # fmt: skip
        TaxRate.objects.create(
            shop=shop, name=name, percent=D(percent), on_payers=payers, starts_on=day, on_kinds=kinds,
            with_parts=["labour"] if name == "City tax" else [],
        )  # fmt: skip
    set_terms(
        shop=shop, by=by, starts_on=day,
        **{
            "supplies_percent": D("3.5"), "supplies_of": ["labour", "part"], "supplies_cap": m("9.50"),
            "class_discounts": {"household": D("2.5")}, "minimum_labour": m("120"), "diagnosis_limit": D("1.0"),
            "price_tiers": {"": [{"up_to": m("10"), "markup": D("87.5")}, {"up_to": None, "markup": D("33.3")}]},
            **terms,
        },
    )  # fmt: skip
    for key, minutes, needs in (("cover", 18, []), ("seal", 12, ["cover"]), ("reed", 9, ["cover"])):
        WorkStep.objects.create(shop=shop, key=key, words=f"{key} done", minutes=D(minutes), needs=needs)
    operations = [
        LabourOperation.objects.create(shop=shop, code=code, words=f"Change {step}", hours=D(hours), steps=[step])
        for code, step, hours in (("SEAL", "seal", "0.5"), ("REED", "reed", "0.5"))
    ]
    coil = Part.objects.create(
        shop=shop, number="C-1", words="Coil", list_price=m("90"), cost=m("45.49"), core_charge=m("4"),
        environment_charge=m("1.25"),
    )  # fmt: skip
    filter_ = Part.objects.create(shop=shop, number="F-1", words="Filter", list_price=m("7"), cost=m("5.11"))
    full = season_service(
        shop, by, order,
        labour=[
            {"words": "Finding the fault", "hours": D("1.4"), "diagnosis": True},
            {"operation": operations[0].pk}, {"operation": operations[1].pk},
            {"words": "Second pair of hands", "hours": D("0.7"), "skill": "helper", "discount_percent": D("12.5")},
        ],
        parts=[
            {"part": coil.pk, "quantity": D(2)}, {"part": filter_.pk, "discount_percent": D("5")},
            {"words": "Line by the foot", "quantity": D("2.5"), "unit_price": fine("1.333").quantize(D("0.001"))},
            {"words": "The customer's own belt", "customers_own": True},
        ],
    )  # fmt: skip
    for kind, words, amount in (
        ("freight", "Freight", "7.31"), ("sublet", "Valve seat", "33.33"), ("disposal", "Old oil", "2.10"),
        ("fee", "Call-out", "15"), ("core", "Core returned", "-4"),
    ):  # fmt: skip
        add_fee(shop=shop, by=by, job_id=full.pk, kind=kind, words=words, amount=m(amount))
    full = change_job(shop=shop, by=by, job_id=full.pk, version=Job.objects.get(pk=full.pk).version, changes={"discount_percent": D("3.3"), "discount_words": "Regular"})  # fmt: skip
    split = season_service(shop, by, order, title="Shared", parts=[{"words": "Plug", "unit_price": m("6.25")}, {"words": "Cap", "unit_price": m("3.01")}])  # fmt: skip
    split = change_job(shop=shop, by=by, job_id=split.pk, version=split.version, changes={"discount_amount": m("2.22"), "discount_words": "For waiting"})  # fmt: skip
    shares = [
        {"payer": "shop", "amount": m("10.01")}, {"payer": "goodwill", "percent": D("33.3333")}, {"payer": "customer"},
    ]  # fmt: skip
    set_split(shop=shop, by=by, job_id=split.pk, version=split.version, shares=shares)
    kinds = season_service(shop, by, order, title="Labour by the shop")
    set_split(shop=shop, by=by, job_id=kinds.pk, version=kinds.version, payer_of={"labour": "shop"})
    sharpening(shop, by, order, payer="goodwill")
    sharpening(shop, by, order, title="Change the reed again", labour=[{"operation": operations[1].pk}])
    record_deposit(shop=shop, by=by, order_id=order.pk, amount=m("25"), means="cash")
    jobs = list(Job.objects.filter(order=order).order_by("number"))
    for name, ways in (("Repair", jobs[:1]), ("Repair with the wear items", [jobs[0], jobs[4]]), ("Leave it", [])):
        add_option(
            shop=shop, by=by, order_id=order.pk, group="Way", name=name, jobs=[job.pk for job in ways],
            value_after=m("210"), price_new=m("549") if ways else None,
        )  # fmt: skip
    return jobs


UNROUNDED = ("rate", "unit_price", "price", "per_day", "core_charge", "environment_charge", "labour_rate", "each")
"""What an hour or a piece costs may be finer than the smallest coin."""


def every_figure(
    facts: Facts,
    told: list[Facts],
    currency: Currency,
    name_of: Callable[[Path, Facts], str | None] | None = None,
    least: int = 60,
) -> dict[str, Decimal]:
    """Each money figure of the facts under its name among the figures, what was entered within the sums, and all sums done again.

    `name_of`: what a place is called among the figures, by itself that of an estimate or invoice. `least`: how many it has.
    """
    found = done_again(told, currency.decimals)
    inside = " ".join(f"{step.get('working', '')} {step['amount']}" for one in told for step in one["steps"]) + " "
    seen = 0
    for path, amount in money_in(facts):
        name = (name_of or name_in_bill)(path, facts)
        if name is not None:
            assert name in found, (path, name)
            assert found[name] == D(amount), (path, name)
            seen += 1
        elif path[0] in ("how", "steps"):
            assert D(amount) in found.values() or -D(amount) in found.values(), path
        elif path[0] not in ("pricing", "storage", "rates") and D(amount):
            plain = f"{abs(D(amount)).normalize():f}"
            assert amount.lstrip("-") in inside or plain in inside, path
        if path[-1] not in UNROUNDED and path[0] != "pricing":
            assert len(amount.partition(".")[2]) == currency.decimals, (path, amount)
    assert seen >= least, seen
    return found


NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
NO_MONEY = {
    "percent", "quantity", "discount_percent", "hours", "separate", "saved", "apart", "saved_more", "number", "serial", "tax_basis",
    "up_to", "markup", "minutes", "diagnosis_limit", "parts_percent", "guide", "allowed", "clocked",
}  # fmt: skip
TIMES = {"labour_time", "labour_set", "labour_done"}
MESSAGES = {"told", "limited_told"}  # words with their places, in which figures are said again
WORDS_OF_OTHERS = {
    "figures",
    "legal_fields",
    "electronic",
    "shop",
    "customer",
    "unit",
    "agreement",
    "consent",
    "photos",
    "cautions",
}


def money_in(facts: Any, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Every text that is an amount of money, with its way there: every plain number that is not known to be something else."""
    if isinstance(facts, dict):
        for name, value in facts.items():
            if name not in TIMES | MESSAGES and (path or name not in WORDS_OF_OTHERS):
                yield from money_in(value, (*path, name))
    elif isinstance(facts, list):
        for at, one in enumerate(facts):
            yield from money_in(one, (*path, at))
    elif isinstance(facts, str) and NUMBER.fullmatch(facts) and path[-1] not in NO_MONEY:
        yield path, facts


def name_in_bill(path: Path, facts: Facts) -> str | None:
    """The figure that a place belongs to; None for what was entered and stands inside the sums. An unknown place is an error."""
    jobs = facts["jobs"]
    match path:
        case ("jobs", j, ("labour" | "parts" | "fees" | "extras") as kind, at, *rest):
            return _of_line(jobs[j], kind, at, tuple(rest))
        case ("jobs", j, "net"):
            return f"job:{jobs[j]['number']}"
        case ("jobs", j, "customer_pays"):
            return f"share:{jobs[j]['number']}:customer"
        case ("jobs", j, "customer_most"):
            return f"most:{jobs[j]['number']}"
        case ("jobs", j, ("if_alone" | "at_most") as choice, what):
            name = f"{'alone' if choice == 'if_alone' else 'dearest'}:{jobs[j]['number']}"
            return name if what == "net" else f"{name}:customer"
        case ("jobs", j, "paid", at, "amount"):
            return f"share:{jobs[j]['number']}:{jobs[j]['paid'][at]['payer']}"
        case ("jobs", j, "paid_how", at, "amount"):
            return f"split:{jobs[j]['number']}:{jobs[j]['paid_how'][at]['text'].split()[0]}"
        case ("jobs", _, "shares" | "discounts", _, "amount"):
            return None
        case ("options", group, "options", at, what):
            way = f"option:{facts['options'][group]['options'][at]['id']}"
            return way if what == "customer_total" else f"{way}:{what}"
        case ("payers", at, ("net" | "tax" | "total") as what):
            return f"payer:{facts['payers'][at]['payer']}:{what}"
        case ("payers", at, "taxes", tax, ("base" | "amount") as what):
            payer, one = facts["payers"][at]["payer"], facts["payers"][at]["taxes"][tax]
            return f"payer:{payer}:{'base' if what == 'base' else 'tax'}:{one['name']}:{one['percent']}"
        case (("customer_taxes" | "taxes") as listed, at, ("base" | "amount") as what):
            tax = facts[listed][at]
            return f"{'base' if what == 'base' else 'tax'}:{tax['name']}:{tax['percent']}"
        case (("customer_net" | "customer_tax" | "customer_total") as name,):
            return name.removeprefix("customer_")
        case (("net" | "tax" | "total") as name,):
            return f"all:{name}" if "customer_total" in facts else name
        case ("due",):
            return "due"
        case ("payments", at, "amount"):
            return f"payment:{at + 1}"
        case ("others", at, "amount"):
            one = facts["others"][at]
            (number,) = [job["number"] for job in jobs if one["why"].split(" · ")[0] == f"Job {job['number']}"]
            return f"share:{number}:{one['payer']}"
        case ("how", _, "amount") | ("pricing" | "storage" | "rates", *_):
            return None
    raise AssertionError(f"no figure is named for {path}")


def _of_line(job: Facts, kind: str, at: int, rest: Path) -> str | None:
    before = {"labour": (), "parts": ("labour",), "fees": ("labour", "parts"), "extras": ("labour", "parts", "fees")}
    line = list(all_lines(job))[at + sum(len(job.get(one, ())) for one in before[kind])]
    assert line.frozen is job[kind][at]
    match rest:
        case ("amount",):
            return f"line:{line.key}"
        case ("customer",):
            alone = job["payer"] == "customer" and not job.get("shares") and not job.get("payer_of")
            whole = alone or line.frozen["customer"] == line.frozen["amount"]
            return f"line:{line.key}" if whole else f"part:{line.key}:customer"
        case ("rate",):
            return f"rate:{line.key}"
        case ("unit_price",):
            return f"price:{line.key}"
        case ("taxes", tax, "amount"):
            one = line.frozen["taxes"][tax]
            return f"tax:{one['name']}:{one['percent']}:line:{line.key}"
        case ("core_charge" | "environment_charge" | "price" | "per_day",) | ("less", _, "amount"):
            return None
    raise AssertionError(f"no figure is named for {kind} {rest}")


def name_in_statement(path: Path, facts: Facts) -> str | None:
    """The figure of a place in a statement as the door tells it."""
    match path:
        case (("carried" | "asked" | "received" | "open" | "overdue" | "held") as name,):
            return name
        case ("entries", at, "balance"):
            return f"balance:{at + 1}"
        case ("entries", at, "asked" | "received"):
            return f"entry:{at + 1}"
        case ("items", at, ("asked" | "open") as what):
            return f"{what}:{facts['items'][at]['number']}"
        case ("steps", _, "amount"):
            return None
    raise AssertionError(f"no figure is named for {path}")


def name_in_claim(path: Path, facts: Facts) -> str:
    """The figure of a place in the frozen facts of a claim."""
    match path:
        case ("labour", "rate") | ("terms", "labour_rate"):
            return "rate"
        case ("labour" | "parts", "amount"):
            return str(path[0])
        case ("parts", "lines", at, ("amount" | "each") as what):
            return f"{'part' if what == 'amount' else 'each'}:{facts['parts']['lines'][at]['id']}"
        case ("expected",):
            return "expected"
    raise AssertionError(f"no figure is named for {path}")
