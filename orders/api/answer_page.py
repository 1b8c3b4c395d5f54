"""The page behind the link of an estimate's letter: what the customer reads and answers on a telephone, without a script.

It shows the frozen estimate as its paper does, takes the answer as a form, and hands it to the very door that programs use.
The token in the address is the whole authority: nobody is signed in here and no cookie counts, so a foreign page that sent
this form would have to know the secret already.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import IO, Any
from urllib.parse import parse_qsl

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer

from orders.papers.estimate import EstimateJob, EstimateSheet
from orders.services.sheets import estimate_sheet
from shopdocs.documents.press.cautions import DEFER, caution
from shopdocs.documents.press.values import Figures, day_words
from shopdocs.documents.press.words import Say, words
from shopdocs.rest.errors import REMEDIES

Facts = dict[str, Any]
HEADERS = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
}
FIELDS = ("said_by", "words", "consent", "estimate_sha256")
MOST_FIELDS = 1000
YES, NO = "yes", "no"
TO_FILL_IN = ("_", "\u2610")
NO_BREAK = "\u00a0"
STYLE = """
*{box-sizing:border-box}
body{font:1.05rem/1.5 system-ui,sans-serif;color:#1c1c1c;background:#fff;max-width:42rem;margin:0 auto;padding:1.2rem 1rem 4rem}
h1{font-size:1.6rem;line-height:1.2;margin:.8rem 0 .3rem}h2{font-size:1.2rem;line-height:1.3;margin:0 0 .3rem}
section,form>fieldset{border:0;border-top:1px solid #c9c9c9;margin:1.6rem 0 0;padding:1rem 0 0}
p{margin:.4rem 0}.faint{color:#555;font-size:.92rem}.sum{font-weight:600}
table{border-collapse:collapse;width:100%;margin:.6rem 0}td{padding:.3rem 0;border-top:1px solid #e4e4e4;vertical-align:top}
td:last-child{text-align:right;white-space:nowrap;padding-left:1rem;font-variant-numeric:tabular-nums}
fieldset{border:0;margin:1rem 0 0;padding:0}legend{font-weight:600;padding:0}
label.pick{display:flex;gap:.7rem;align-items:flex-start;border:1px solid #b5b5b5;border-radius:.3rem;padding:.7rem;margin:.5rem 0}
label.pick input{margin:.25rem 0 0;width:1.2rem;height:1.2rem;flex:none}
input[type=text],textarea{font:inherit;width:100%;padding:.6rem;border:1px solid #777;border-radius:.3rem;margin:.3rem 0}
.upto{display:block;margin:0 0 .6rem 2.6rem}.upto input{width:9rem}
button{font:inherit;font-weight:600;width:100%;padding:.9rem;margin:1.2rem 0 0;border:2px solid #1c1c1c;border-radius:.3rem;background:#1c1c1c;color:#fff}
figure{display:inline-block;width:calc(50% - .5rem);margin:.5rem .4rem .2rem 0;vertical-align:top}
figure img{width:100%;height:auto;border:1px solid #ddd}figcaption{font-size:.88rem;color:#555}
.problems{border:2px solid #1c1c1c;border-left-width:.6rem;padding:.7rem .9rem;margin:1rem 0}
.bar{height:.3rem;width:3.5rem}ul{padding-left:1.2rem;margin:.4rem 0}
"""


@dataclass
class Typed:
    """What was sent with the form, in the shape of the door, and what is wrong with it (field, problem, remedy)."""

    data: Mapping[str, Any] = field(default_factory=dict)
    problems: list[dict[str, str]] = field(default_factory=list)

    def answer_to(self, job: str) -> dict[str, Any]:
        listed = self.data.get("answers") or []
        return next((one for one in listed if one.get("job") == job), {})

    def of_job(self, job: str) -> list[dict[str, str]]:
        """The problems that name this job's answer by its place."""
        listed = [one.get("job") for one in self.data.get("answers") or []]
        marks = [f"answers[{at}]" for at, one in enumerate(listed) if one == job]
        return [one for one in self.problems if any(one["field"].startswith(mark) for mark in marks)]


class AnswerForm(BaseParser):
    """The form of the page as the JSON that the door takes."""

    media_type = "application/x-www-form-urlencoded"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Facts:
        try:
            sent = parse_qsl(
                stream.read().decode(), keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict"
            )
        except ValueError as error:
            raise ParseError(f"This is not a form that can be read: {error}.") from None
        return from_form(dict(sent))


def from_form(sent: Mapping[str, str]) -> Facts:
    """The fields of the form in the shape of the door; a name that is none of them is left for the door to refuse."""
    data: Facts = {"answers": [], "options": []}
    for name, value in sent.items():
        kind, _, whose = name.partition(":")
        if kind == "job" and whose:
            accepted = value == YES
            choice = sent.get(f"refused:{whose}", "") if accepted else ""
            upto = {"up_to": sent.get(f"upto:{whose}", "").strip() or None} if choice == "pay_up_to" else {}
            refused = {"if_refused": {"choice": choice, **upto}} if choice else {}
            data["answers"].append({"job": whose, "accepted": accepted, **refused})
        elif kind == "option" and whose:
            data["options"] += [value] if value else []
        elif kind not in ("refused", "upto"):
            data[name] = value
    return data


class AnswerHtml(BaseRenderer):
    """The page for whoever asks for text/html before anything else, as browsers do."""

    media_type = "text/html"
    format = "html"
    charset = "utf-8"

    def render(self, data: Any, accepted_media_type: str | None = None, renderer_context: Any = None) -> str:
        view, response = renderer_context["view"], renderer_context["response"]
        return str(view.page_for(renderer_context["request"], data, response.status_code))


def framed(language: str, head: str, body: SafeString, accent: str = "#555") -> str:
    return format_html(
        '<!doctype html>\n<html lang="{}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, '
        'initial-scale=1"><meta name="robots" content="noindex"><title>{}</title><style>{}</style></head>'
        '<body><div class="bar" style="background:{}"></div>{}</body></html>\n',
        language, head, mark_safe(STYLE), accent, body,  # noqa: S308 - our own text
    )  # fmt: skip


def refused_page(language: str, body: Facts) -> str:
    """A refusal alone: why this link shows nothing, and what to do."""
    head = words(language)("This link does not work")
    lines = format_html_join(
        "", "<p class=sum>{}</p><p>{}</p>", ((one["problem"], one["remedy"]) for one in body["errors"])
    )
    return framed(language, head, format_html("<h1>{}</h1>{}", head, lines))


def answered_page(facts: Facts, answers: Iterable[Facts]) -> str:
    """What was agreed, in the words that are stored."""
    language = facts["shop"]["language"]
    say, sheet = words(language), estimate_sheet(facts)
    said = format_html_join("", "<p>{}</p>", ((one["agreed_words"],) for one in answers))
    reach = facts["shop"]["phone"] or facts["shop"]["email"] or ", ".join(facts["shop"]["address"])
    body = format_html(
        "<h1>{}</h1>{}<section><h2>{}</h2>{}</section><section><p>{}</p></section>",
        say("Your answer is recorded"), _opening(sheet, facts, say), say("Answer given"), said,
        say("If you want to change something, tell us: {reach}.").format(reach=reach),
    )  # fmt: skip
    return framed(language, sheet.number, body, facts["shop"]["accent"])


def estimate_page(facts: Facts, digest: str, waiting: Collection[str], typed: Typed) -> str:
    """The estimate with the form of the answer. `waiting`: the jobs, by id, that have none yet."""
    language = facts["shop"]["language"]
    say, sheet = words(language), estimate_sheet(facts)
    figures = Figures(sheet.currency, say)
    groups = [(group, {job for way in group["options"] for job in way["jobs"]}) for group in facts.get("options", ())]
    group_of = {job: group["group"] for group, ids in groups for job in ids}
    asked = [group for group, ids in groups if not ids.isdisjoint(waiting)]
    jobs = [
        _job(job, shown, group_of.get(job["id"], ""), job["id"] in waiting, typed, figures)
        for job, shown in zip(facts["jobs"], sheet.jobs, strict=True)
    ]
    body = format_html(
        '<h1>{} {}</h1>{}{}<form method="post">{}{}{}{}{}</form>{}',
        say("Estimate"), sheet.number, _problems(typed.problems, say), _opening(sheet, facts, say),
        mark_safe("".join(jobs)),  # noqa: S308 - each is escaped
        mark_safe("".join(_choice(group, typed, figures) for group in asked)),  # noqa: S308
        _totals(sheet, figures), _terms(facts, sheet, say),
        _sign(facts, digest, typed, say) if waiting else "", _cautions(sheet, say),
    )  # fmt: skip
    return framed(language, f"{say('Estimate')} {sheet.number}", body, facts["shop"]["accent"])


def _opening(sheet: EstimateSheet, facts: Facts, say: Say) -> SafeString:
    valid = sheet.valid_until
    rows = [
        (sheet.shop.name, ""),
        (f"{sheet.unit.maker} {sheet.unit.model}", f"{say('Repair order')} {sheet.repair_order}"),
        (sheet.request, say("Asked for") if sheet.request else ""),
        (day_words(valid, say) if valid else "", say("Valid until") if valid else ""),
    ]
    return format_html_join(
        "", "<p>{}{}</p>",
        ((format_html('<span class="faint">{}: </span>', label) if label else "", text) for text, label in rows if text),
    )  # fmt: skip


def _problems(problems: list[dict[str, str]], say: Say, *, beside: bool = False) -> SafeString:
    """What is wrong, and what to do; `beside` its place in the form, where the whole list stands at the top."""
    if not problems:
        return mark_safe("")
    labels = {
        "said_by": say("Your name"),
        "up_to": say("Up to this amount"),
        "words": say("Anything that you want to tell us"),
    }
    for_programs = say(REMEDIES["invalid"])  # it names the API description, which no customer has
    told = []
    for one in problems:
        label = labels.get(one["field"].rpartition(".")[2])
        remedy = "" if one["remedy"] == for_programs else one["remedy"]
        told.append((f"{label}: " if label else "", one["problem"], remedy))
    listed = format_html_join("", "<li>{}{} {}</li>", told)
    head = (
        ""
        if beside
        else format_html('<p class="sum">{}</p>', say("Nothing is recorded yet. Please look at this again:"))
    )
    return format_html('<div class="problems" role="alert">{}<ul>{}</ul></div>', head, listed)


def _job(job: Facts, shown: EstimateJob, group: str, waits: bool, typed: Typed, figures: Figures) -> SafeString:
    say = figures.say
    told = [
        (shown.found, ""), (say("Do not run the machine like this.") if shown.unsafe else "", "sum"),
        (f"{say('Why now')}: {shown.why_now}" if shown.why_now else "", ""),
        (f"{say('If it is not done')}: {shown.if_not}" if shown.if_not else "", ""),
        (f"{shown.payer}: {shown.basis}" if shown.basis else "", "faint"),
    ]  # fmt: skip
    photos = format_html_join(
        "", '<figure><img src="photos/{}/" alt="{}" loading="lazy"><figcaption>{}</figcaption></figure>',
        ((one.sha256, one.caption, f"{say('Photo')} {one.number}: {one.caption}") for one in shown.photos),
    )  # fmt: skip
    lines = [(line.what, line.amount) for line in shown.labour] + [(line.what, line.amount) for line in shown.parts]
    rows = format_html_join(
        "", "<tr><td>{}</td><td>{}</td></tr>", ((what, figures.money(sum_)) for what, sum_ in lines)
    )
    sums = [(f"{say('Job')} {shown.number}, {say('before tax')}", shown.subtotal)]
    sums += [(say("of which you pay"), shown.customer_pays)] if shown.customer_pays is not None else []
    rows += format_html_join(
        "", '<tr class="sum"><td>{}</td><td>{}</td></tr>', ((what, figures.money(sum_)) for what, sum_ in sums)
    )
    return format_html(
        '<section id="job-{}"><h2>{} {}: {}</h2><p class="faint">{} {}</p>{}{}<table>{}</table>{}{}</section>',
        shown.number, say("Job"), shown.number, shown.title, say("paid by"), shown.payer,
        format_html_join("", '<p class="{}">{}</p>', ((look, text) for text, look in told if text)), photos, rows,
        format_html_join("", '<p class="faint">{}</p>', ((text,) for text in shown.if_alone)),
        _answer(job, group, waits, typed, say),
    )  # fmt: skip


def _answer(job: Facts, group: str, waits: bool, typed: Typed, say: Say) -> SafeString:
    if not waits:
        return format_html('<p class="sum">{}</p>', say("You have answered this job already."))
    if group:
        return format_html('<p class="sum">{}</p>', say("Please choose below, under '{group}'.").format(group=group))
    given, pk = typed.answer_to(job["id"]), job["id"]
    ticked = {True: YES, False: NO}.get(given.get("accepted", ""), "")
    picks = [(YES, job["agree"]["accept"]), (NO, job["agree"]["decline"])]
    return format_html(
        "<fieldset><legend>{}</legend>{}{}</fieldset>{}",
        say("Your answer"), _problems(typed.of_job(pk), say, beside=True),
        _picks(f"job:{pk}", [(value, _bold(say("Yes") if value == YES else say("No"), text)) for value, text in picks], ticked),
        _if_refused(job, given.get("if_refused") or {}, say),
    )  # fmt: skip


def _bold(head: str, text: str) -> SafeString:
    return format_html("<span><b>{}.</b> {}</span>", head, text)


def _picks(name: str, picks: Iterable[tuple[str, SafeString]], ticked: str, *, needed: bool = True) -> SafeString:
    return format_html_join(
        "", '<label class="pick"><input type="radio" name="{}" value="{}"{}{}>{}</label>',
        (
            (name, value, mark_safe(" required") if needed else "", mark_safe(" checked") if value == ticked else "", text)
            for value, text in picks
        ),
    )  # fmt: skip


def _if_refused(job: Facts, given: Facts, say: Say) -> SafeString:
    """What happens if the claim is refused: no answer is an answer too, and it stands there first."""
    told = job.get("if_refused")
    if not told:
        return mark_safe("")
    name, upto = f"refused:{job['id']}", f"upto:{job['id']}"
    picks = [
        (value, format_html("<span>{}</span>", told[value or "none"]))
        for value in ("", "pay_up_to", "ask_me", "return_unrepaired")
    ]
    amount = format_html(
        '<label class="upto">{} <input type="text" inputmode="decimal" name="{}" value="{}"></label>',
        say("Up to this amount"), upto, given.get("up_to") or "",
    )  # fmt: skip
    first, second, *rest = picks
    ticked = given.get("choice", "")
    return format_html(
        "<fieldset><legend>{}</legend>{}{}{}</fieldset>",
        told["asked"], _picks(name, [first, second], ticked, needed=False), amount,
        _picks(name, rest, ticked, needed=False),
    )  # fmt: skip


def _choice(group: Facts, typed: Typed, figures: Figures) -> SafeString:
    say, ways = figures.say, []
    chosen = set(map(str, typed.data.get("options") or []))
    for way in group["options"]:
        beside = [
            (say("You pay, with tax"), way["customer_total"]), (say("Machine is worth after it"), way["value_after"]),
            (say("New machine"), way["price_new"]),
        ]  # fmt: skip
        told = "; ".join(f"{what}: {figures.symbol}{amount}" for what, amount in beside if amount is not None)
        text = format_html(
            '<span><b>{}.</b> {}<br><span class="faint">{}{}</span></span>',
            way["name"], way["agree"], told, f". {way['note']}" if way["note"] else "",
        )  # fmt: skip
        ways.append((way["id"], text))
    ticked = next((value for value, _ in ways if value in chosen), "")
    return format_html(
        "<fieldset><legend>{}: {}</legend>{}</fieldset>",
        say("To choose from"), group["group"], _picks(f"option:{group['group']}", ways, ticked),
    )  # fmt: skip


def _totals(sheet: EstimateSheet, figures: Figures) -> SafeString:
    say = figures.say
    rows = [
        (
            f"{tax.name}, {figures.percent(tax.percent).replace(' ', NO_BREAK)} {say('of')} {figures.money(tax.base)}",
            tax.amount,
        )
        for tax in sheet.taxes
    ]
    listed = format_html_join(
        "", "<tr><td>{}</td><td>{}</td></tr>", ((what, figures.money(sum_)) for what, sum_ in rows)
    )
    return format_html(
        '<section><h2>{}</h2><table>{}<tr class="sum"><td>{}</td><td>{}</td></tr></table></section>',
        say("Totals"), listed, say("Customer pays"), figures.money(sheet.customer_total),
    )  # fmt: skip


def _terms(facts: Facts, sheet: EstimateSheet, say: Say) -> SafeString:
    told = [
        say("The whole estimate is attached to our letter as a paper."),
        *(one for one in sheet.terms if one != facts["agreement"]),
    ]
    for law in sheet.legal:  # what is to be filled in by hand stands on the paper alone
        said = (f"{one.name}: {one.value}" for one in law.fields if one.value and not one.value.startswith(TO_FILL_IN))
        told += [f"{law.binds} ({law.source})", *said]
    return format_html(
        "<section>{}</section>", format_html_join("", '<p class="faint">{}</p>', ((one,) for one in told))
    )


def _sign(facts: Facts, digest: str, typed: Typed, say: Say) -> SafeString:
    consent = facts.get("consent")
    agree: SafeString = mark_safe("")
    if consent:
        agree = format_html(
            '<label class="pick"><input type="checkbox" name="consent" value="{}" required{}><span>{}</span></label>',
            consent["version"], mark_safe(" checked") if typed.data.get("consent") == consent["version"] else "",
            consent["words"],
        )  # fmt: skip
    return format_html(
        '<fieldset><legend>{}</legend>{}<label>{}<input type="text" name="said_by" maxlength="200" autocomplete="name" required '
        'value="{}"></label><label>{}<textarea name="words" rows="3" maxlength="2000">{}</textarea></label>'
        '<input type="hidden" name="estimate_sha256" value="{}"><p class="faint">{}</p><p class="faint">{}</p>'
        "<button>{}</button></fieldset>",
        say("Your answer"), agree, say("Your name"), typed.data.get("said_by", ""),
        say("Anything that you want to tell us"), typed.data.get("words", ""), digest, facts["agreement"],
        say("This link takes one answer."), say("Send my answer"),
    )  # fmt: skip


def _cautions(sheet: EstimateSheet, say: Say) -> SafeString:
    if not sheet.cautions:
        return mark_safe("")
    told = [(say(head), say(text)) for head, text in map(caution, sheet.cautions)]
    return format_html(
        '<section><h2>{}</h2>{}<p class="faint">{}</p></section>',
        say("Please take care"), format_html_join("", "<p><b>{}</b> {}</p>", told), say(DEFER),
    )  # fmt: skip
