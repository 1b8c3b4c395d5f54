"""Sheets of estimate and invoice, built from their frozen facts alone: the same paper comes out years later."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.papers import estimate as estimate_paper
from orders.papers import invoice as invoice_paper
from orders.papers.electronic import Electronic
from orders.papers.legal import LegalField, LegalPaper
from orders.papers.lines import LabourLine, PartLine, TaxLine
from orders.rules import messages
from orders.rules.labour import saving_words
from orders.rules.pricing_result import CORE_CHARGE
from shopdocs.documents.press.facts import Party, Photo, Unit
from shopdocs.documents.press.sheets import Currency, ShopBlock, from_json
from shopdocs.documents.press.values import apart, day_words, sentence
from shopdocs.documents.press.words import Say, Words, words

from .agreement import tax_words
from .labour_together import beside_words
from .priced import ENVIRONMENT_CHARGE

Facts = dict[str, Any]


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None


def frame(facts: Facts, *, number: str, version: int, title: str) -> dict[str, Any]:
    """What every sheet carries, out of frozen facts."""
    shop, money = facts["shop"], facts["money"]
    return {
        "paper": shop["paper"],
        "language": shop["language"],
        "shop": ShopBlock(
            name=shop["name"],
            address=tuple(shop["address"]),
            phone=shop["phone"],
            email=shop["email"],
            accent=shop["accent"],
        ),
        "number": number,
        "version": version,
        "issued_on": dt.date.fromisoformat(facts["issued_on"]),
        "title": words(shop["language"])(title),
        "code": facts["code"],
        "currency": Currency(symbol=money["symbol"], decimals=money["decimals"]),
    }


def party(facts: Facts) -> Party:
    return Party(name=facts["name"], lines=tuple(facts["lines"]))


def unit(facts: Facts) -> Unit:
    """The machine, out of `frozen.unit_facts`."""
    return Unit(
        family=facts["family"],
        maker=facts["maker"],
        model=facts["model"],
        serial=facts["serial"],
        serial_note=facts["serial_note"],
        built_on=_day(facts["built_on"]),
        hours=None if facts["hours"] is None else Decimal(facts["hours"]),
        hours_note=facts["hours_note"],
        use_class=facts["use_class"],
        power_source=facts["power_source"],
    )


def less_words(line: Facts, say: Words) -> str:
    """'less discount (10 %): 2.00' or ''."""
    text = say("less {what}: {amount}")
    return "; ".join(text.format(what=_cut_words(cut, say), amount=cut["amount"]) for cut in line.get("less", ()))


def _cut_words(cut: Facts, say: Words) -> str:
    """By what it came off; facts frozen before discounts were named have their English alone."""
    if not cut.get("name"):
        return str(cut["words"])
    name = say(cut["name"])
    return f"{name} ({cut['percent']} %)" if cut["percent"] is not None else name


def added_words(line: Facts, say: Words) -> str:
    """A fee as it was typed; what pricing added, in the paper's language where its facts are young enough to tell."""
    if line.get("told"):
        return messages.told(line["told"], say)
    return str(line.get("why") or line["words"])


def added_name(line: Facts, say: Words) -> str:
    """What pricing added, by its name alone."""
    if line.get("told") and line["told"][0][0] in (CORE_CHARGE, ENVIRONMENT_CHARGE):
        return messages.told(line["told"], say)
    return say(line["words"])


def _limited(line: Facts, say: Words) -> str:
    """That a line is above the most that is paid, '' where it is not."""
    return messages.told(line["limited_told"], say) if "limited_told" in line else str(line.get("limited", ""))


def saving_told(time: Facts, say: Words) -> str:
    """What doing the work together saves; facts frozen before reasons were kept have their English alone."""
    if "shared" not in time:
        return str(time.get("saving", ""))
    told = (saving_words(time["saved"], time["shared"], say), beside_words(time.get("beside"), say))
    return " ".join(part for part in told if part)


def _before_less(line: Facts) -> Decimal:
    """The amount of a line before anything was taken off it."""
    return sum((Decimal(cut["amount"]) for cut in line.get("less", ())), Decimal(line["amount"]))


def labour_lines(job: Facts, language: str) -> tuple[LabourLine, ...]:
    """The labour; the saving of the set stands under its last line, which is where somebody adds up."""
    say = words(language)
    saving = saving_told(job.get("labour_time") or {}, say)
    last = len(job["labour"]) - 1
    return tuple(
        LabourLine(
            code=line["code"],
            what=f"{line['words']} ({line['skill']})" if line.get("skill") else line["words"],
            tenths=line["tenths"],
            rate=Decimal(line["rate"]),
            amount=Decimal(line["amount"]),
            note=" ".join(
                part for part in (less_words(line, say), _limited(line, say), saving if at == last else "") if part
            ),
        )
        for at, line in enumerate(job["labour"])
    )


def part_lines(job: Facts, language: str, *, told: bool = False) -> tuple[PartLine, ...]:
    """The parts, then fees and what pricing added: core charges, supplies, a minimum. `told`: each part's condition, too."""
    say = words(language)
    others = tuple(
        PartLine(
            number="",
            what=" · ".join(part for part in (apart(added_words(line, say)), less_words(line, say)) if part),
            condition="",
            quantity=Decimal(1),
            each=_before_less(line),
            amount=Decimal(line["amount"]),
        )
        for line in (*job.get("fees", ()), *job.get("extras", ()))
    )
    return others_after(job, others, say, told=told)


def _holds(line: Facts, say: Say) -> str:
    """What a kit holds, '' for a single part."""
    held = ", ".join(f"{one['quantity']} × {apart(one['words'])}" for one in line.get("contents") or ())
    return f"{say('holds')} {held}" if held else ""


def conditions_told(facts: Facts) -> bool:
    """Whether a law wants each part's condition on the paper, also of new ones."""
    return any(one["answer"] == "conditions" for law in facts.get("legal_fields", ()) for one in law["fields"])


def part_condition(line: Facts, say: Say, *, told: bool = False) -> str:
    """'used part', or nothing for a new one; with `told` also 'new part, original equipment' and the like. Facts may be older."""
    condition, original = line.get("condition", "new"), line.get("original")
    if condition != "new":
        return say(f"{condition} part")
    if not told:
        return ""
    if original is None:
        return f"{say('new part')}, {say('not known whether original equipment')}"
    return f"{say('new part')}, {say('original equipment' if original else 'not original equipment')}"


def _condition(line: Facts, say: Say, told: bool) -> str:
    """Whose it is, in which condition, and whether it is here."""
    said = [say("customer's own")] if line.get("customers_own") else []
    condition = part_condition(line, say, told=told and not said)
    said += [condition] if condition else []
    if line.get("waiting"):
        here = say("back-ordered") if line["waiting"] == "back_ordered" else say("ordered")
        day = _day(line["expected_on"])
        said.append(f"{here}, {say('expected')} {day_words(day, say)}" if day else f"{here}, {say('day not known')}")
    return "; ".join(said)


def others_after(job: Facts, others: tuple[PartLine, ...], say: Words, *, told: bool = False) -> tuple[PartLine, ...]:
    """The parts of the job, with these lines below them."""
    listed = tuple(
        PartLine(
            number=line["number"],
            what=" · ".join(part for part in (apart(line["words"]), _holds(line, say), less_words(line, say)) if part),
            condition=_condition(line, say, told),
            quantity=Decimal(line["quantity"]),
            each=Decimal(line["unit_price"]),
            amount=Decimal(line["amount"]),
        )
        for line in job["parts"]
    )
    return listed + others


def tax_lines(
    taxes: Iterable[Facts], language: str, exempt: str = "", net: str = "0", ended: Iterable[Facts] = ()
) -> tuple[TaxLine, ...]:
    """The customer's taxes; a certificate that spared them, and a tax that ended, stand as taxes of nothing on what they spared."""
    say = words(language)
    gone = [{**tax, "percent": "0", "base": net, "amount": "0"} for tax in ended]
    spared = [{"name": f"{say('Exempt by certificate')} {exempt}", "percent": "0", "base": net, "amount": "0"}]
    return tuple(
        TaxLine(
            name=_tax_name(tax, say),
            percent=Decimal(tax["percent"]),
            base=Decimal(tax["base"]),
            amount=Decimal(tax["amount"]),
        )
        for tax in [*taxes, *gone, *(spared if exempt else ())]
    )


def _tax_name(tax: Facts, say: Say) -> str:
    """'State tax', with how it came about where that is not the usual 'percentage on top of the whole'."""
    said, how = tax["name"], tax.get("how", "")
    if "bracket" in how:
        said += f" ({say('by the bracket table')})"
    if "inside" in how:
        said += f" ({say('in the prices')})"
    if "per line" in how:
        said += f" ({say('rounded on each line')})"
    return f"{said} ({tax['why']})" if tax.get("why") else said


def _customers_share(job: Facts) -> Decimal | None:
    """What the customer pays of a job that has several payers; None where one payer pays it all."""
    return Decimal(job["customer_pays"]) if job.get("shares") or job.get("payer_of") else None


def _spared(facts: Facts, net: str) -> tuple[str, str, str]:
    """The paper's language, the certificate by which the customer pays no tax ('' if none), and the sum it spared."""
    return facts["shop"]["language"], facts.get("exempt_by", ""), net


def estimate_sheet(facts: Facts) -> estimate_paper.EstimateSheet:
    """The estimate's sheet. The customer's link is not on it: it stands in the letter only."""
    return estimate_paper.EstimateSheet(
        **frame(facts, number=facts["number"], version=facts["edition"], title="Estimate"),
        customer=party(facts["customer"]),
        unit=unit(facts["unit"]),
        repair_order=facts["order"],
        valid_until=dt.date.fromisoformat(facts["valid_until"]),
        request=facts["request"],
        jobs=tuple(
            estimate_paper.EstimateJob(
                number=job["number"],
                title=job["title"],
                found=job["found"],
                labour=labour_lines(job, facts["shop"]["language"]),
                parts=part_lines(job, facts["shop"]["language"], told=conditions_told(facts)),
                payer=job["payer_words"],
                basis=job["basis"],
                subtotal=Decimal(job["net"]),
                customer_pays=_customers_share(job),
                why_now=job.get("why_now", ""),
                if_not=job.get("if_not", ""),
                unsafe=job.get("unsafe", False),
                photos=tuple(from_json(Photo, one) for one in job.get("photos", ())),
                if_refused=_if_refused(job),
                if_alone=_if_alone(facts, job),
            )
            for job in facts["jobs"]
        ),
        options=tuple(_choice(group) for group in facts.get("options", ())),
        legal=legal_sheet(facts.get("legal_fields", ()), facts["money"]["symbol"], words(facts["shop"]["language"])),
        taxes=tax_lines(facts["customer_taxes"], *_spared(facts, facts["customer_net"])),
        payers=tuple(
            estimate_paper.PayerTotal(
                payer=sentence(words(facts["shop"]["language"])(one["payer"])),
                net=Decimal(one["net"]),
                tax=Decimal(one["tax"]),
                total=Decimal(one["total"]),
            )
            for one in facts["payers"]
        ),
        customer_total=Decimal(facts["customer_total"]),
        answer_how=facts["answer_how"],
        answer_link="",
        terms=tuple(part for part in (facts["agreement"], (facts.get("storage") or {}).get("words")) if part),
        cautions=tuple(facts["cautions"]),
    )


def _if_refused(job: Facts) -> tuple[str, ...]:
    """The question for the case that the claim is refused, then what can be chosen."""
    told = job.get("if_refused")
    return tuple(told[name] for name in ("asked", "pay_up_to", "ask_me", "return_unrepaired", "none")) if told else ()


def _if_alone(facts: Facts, job: Facts) -> tuple[str, ...]:
    """What the job comes to where the customer chooses it alone, and at most, because it shares work with others."""
    say, symbol = words(facts["shop"]["language"]), facts["money"]["symbol"]
    told = (
        (job.get("if_alone"), say("If only this job is agreed to: {hours} h of labour, {amount} {tax}.")),
        (job.get("at_most"), say("Where some of the others are left: {hours} h at most, {amount} {tax}.")),
    )
    tax = say(tax_words(facts))
    return tuple(
        text.format(hours=one["hours"], amount=f"{symbol}{one['net']}", tax=tax)
        for one, text in told
        if one is not None
    )


def _choice(group: Facts) -> estimate_paper.Choice:
    def money(text: str | None) -> Decimal | None:
        return None if text is None else Decimal(text)

    return estimate_paper.Choice(
        between=group["group"],
        ways=tuple(
            estimate_paper.Way(
                name=one["name"],
                kind=one["kind_words"],
                jobs=", ".join(str(number) for number in one["numbers"]),
                customer_pays=Decimal(one["customer_total"]),
                value_after=money(one["value_after"]),
                price_new=money(one["price_new"]),
                note=one["note"],
            )
            for one in group["options"]
        ),
    )


def _choice_of_estimate(asked: str, told: str, say: Say) -> str:
    """The three ways with the chosen one ticked, the sum that was told beside it, and a line for the initials."""
    amount = {"orally": f": {told}", "waived": f", {say('at most {amount}').format(amount=told)}"} if told else {}
    ways = {"in_writing": say("in writing"), "orally": say("oral"), "waived": say("none")}
    boxes = (
        f"{TICKED} {way}{amount.get(code, '')}" if asked == code else f"{TICKS} {way}" for code, way in ways.items()
    )
    return f"{'   '.join(boxes)}   {BLANK}"


BLANK = "_" * 18
DAYS = ("issued_on", "estimate_on", "finished_on", "received_on", "promised_on")
TICKS, TICKED = "\u2610", "\u2611"


def legal_sheet(listed: Iterable[Facts], symbol: str, say: Say) -> tuple[LegalPaper, ...]:
    """What the law wants said, as papers print it: a day in words, money with its symbol, a line where a hand must write."""

    def shown(field: Facts) -> str:
        value: str = field["value"]
        answer = field.get("answer", "")
        if answer == "choice":
            return _choice_of_estimate(value, f"{symbol}{field['told']}" if field.get("told") else "", say)
        if value and answer in DAYS:
            return day_words(dt.date.fromisoformat(value), say)
        return f"{symbol}{value}" if value and answer in ("total", "tax") else value or BLANK

    return tuple(
        LegalPaper(
            binds=sentence(say(one["binds"])),
            source=one["source"],
            limit=one["limit"],
            fields=tuple(
                LegalField(name=say(field["name"]), value=shown(field), bold=field.get("bold", False))
                for field in one["fields"]
                if not field.get("drawn")  # the paper says it anyway
            ),
            more=any(field.get("drawn") for field in one["fields"]),
        )
        for one in listed
    )


def invoice_sheet(facts: Facts) -> invoice_paper.InvoiceSheet:
    """The invoice's sheet: as it was issued, with the deposits and before any payment."""
    return invoice_paper.InvoiceSheet(
        **frame(facts, number=facts["number"], version=0, title="Invoice"),
        customer=party(facts["customer"]),
        unit=unit(facts["unit"]),
        repair_order=facts["order"],
        finished_on=_day(facts["finished_on"]),
        jobs=tuple(
            invoice_paper.InvoiceJob(
                number=job["number"],
                title=job["title"],
                correction=job["correction"],
                labour=labour_lines(job, facts["shop"]["language"]),
                parts=part_lines(job, facts["shop"]["language"], told=conditions_told(facts)),
                payer=job["payer_words"],
                basis=job["basis"],
                subtotal=Decimal(job["net"]),
                customer_pays=Decimal(job["customer_pays"]),
            )
            for job in facts["jobs"]
        ),
        others=tuple(
            invoice_paper.OtherPayer(payer=one["payer_words"], why=one["why"], amount=Decimal(one["amount"]))
            for one in facts["others"]
        ),
        net=Decimal(facts["net"]),
        taxes=tax_lines(facts["taxes"], *_spared(facts, facts["net"]), facts.get("taxes_ended", ())),
        total=Decimal(facts["total"]),
        payments=tuple(
            invoice_paper.Payment(on=dt.date.fromisoformat(one["on"]), how=one["how"], amount=Decimal(one["amount"]))
            for one in facts.get("payments", ())
        ),
        due=Decimal(facts["due"] if "due" in facts else facts["total"]),
        due_on=dt.date.fromisoformat(facts["due_on"]),
        pay_how=facts["pay_how"],
        upkeep=(),
        terms=(),
        cautions=tuple(facts["cautions"]),
        electronic=electronic_form(facts),
        legal=legal_sheet(facts.get("legal_fields", ()), facts["money"]["symbol"], words(facts["shop"]["language"])),
    )


def electronic_form(facts: Facts) -> Electronic | None:
    """The paper for programs, as it was frozen; None where the shop had none, or the paper could have none."""
    told = facts.get("electronic") or {}
    return from_json(Electronic, told["invoice"]) if told.get("invoice") else None
