"""A decision in words, made on demand from its record: for papers, the API and the counter."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

from warranty.coverage.case import Step
from warranty.coverage.decision import Decision
from warranty.coverage.phrases import FACTS, GROUNDS, PHRASES, REFUSED, ROUTES, WARNINGS
from warranty.coverage.record import TermTried


def words(decision: Decision, language: str = "en") -> list[str]:
    """The explanation, a sentence or two a line: the answer, each term with its steps, what is missing, who pays, the advice.

    English is the language of this house; another raises ValueError.
    """
    if language != "en":
        raise ValueError(f"there are no words in '{language}'; ask for 'en'")
    lines = [_answer(decision)]
    lines += [f"Contradiction: {WARNINGS.get(code, code)}" for code in decision.warnings]
    for one in decision.tried:
        lines += term_words(one)
    lines += _missing(decision) + _pays(decision) + _defects(decision)
    lines.append(
        "This is advice, worked out from the facts on file and the terms as they were read. Whoever gave the promise "
        "decides; a lawyer or a court has the last word on law. Confirm each source before relying on it."
    )
    return lines


def _answer(decision: Decision) -> str:
    day = f" Judged for {decision.judged_on}, asked for {decision.as_of}." if decision.judged_on else f" Asked for {decision.as_of}."
    if decision.refused:
        return f"Cannot say yet: {REFUSED[decision.refused]}{day}"
    if decision.answer == "covered" and decision.by:
        return f"Covered, by {_and([_title(decision, one) for one in decision.by])}.{day}"
    if decision.answer == "covered":
        either = " or ".join(_title(decision, one) for one in decision.by_one_of)
        return f"Covered whatever the missing facts turn out to be, by {either}; which of them depends on those facts.{day}"
    plain = {
        "not_covered": "Not covered: every term that was tried fails.",
        "cannot_say_yet": "Cannot say yet: no term holds for sure, and at least one still may.",
        "no_fault": "No fault: this is normal. Explain it to the customer; nothing is claimed and nothing is repaired.",
    }[decision.answer]
    return plain + day


def _title(decision: Decision, term: str) -> str:
    return next((one.title for one in decision.tried if one.term == term), term)


def term_words(one: TermTried) -> list[str]:
    """One term with its period and every step."""
    head = {"holds": "holds", "fails": "does not help", "open": "is still open"}[one.outcome]
    lines = [f"{one.title} ({one.source}, {one.edition}; {one.confidence}; {one.confirm}) {head}."]
    if one.last_day is not None and one.starts_on is not None:
        day = "the anniversary day is inside" if one.anniversary_inside else "the anniversary day is the first day outside"
        end = "does not end" if one.last_day == "never" else f"ends on {one.last_day}; {day}"
        lines.append(f"  Its period runs from {one.starts_on} and {end}.")
    if one.hours_limit is not None:
        may = ", a limit that the giver may, but need not, invoke" if one.hours_may_be_invoked else ""
        lines.append(f"  The last hour inside is {one.hours_limit} h; exactly that much is still inside{may}.")
    return lines + [f"  {step_words(step)}" for step in one.steps]


def step_words(step: Step) -> str:
    """One step in words, with its source."""
    mark = {"holds": "Yes", "fails": "No", "open": "Not known yet"}[step.outcome]
    phrase = PHRASES[step.rule][{"holds": 0, "fails": 1, "open": 2}[step.outcome]]
    want = step.want
    if isinstance(want, tuple | list) and len(want) == 2 and want[0] in ("forbidden", "ground"):
        ground = GROUNDS.get(str(want[1]), str(want[1]))
        phrase = f"{ground} may not be given as a reason to refuse here" if want[0] == "forbidden" else f"the reason is {ground}"
    fact = FACTS.get(step.fact, step.fact.replace("_", " "))
    known = "" if step.value is None or step.value == () else f" ({fact}: {shown(step.value)})"
    if step.outcome == "open":
        known = f" (missing: {fact})"
    return f"{mark}: {phrase}{known} [{step.source}]"


def shown(value: object) -> str:
    """A value as people write it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return ", ".join(shown(item) for item in value if item is not None)
    return str(value).replace("_", " ")


def _missing(decision: Decision) -> list[str]:
    lines = []
    for one in decision.settling:
        fact = FACTS.get(one.fact, one.fact.replace("_", " "))
        meaning = "; ".join(f"{shown(value)}: {answer.replace('_', ' ')}" for value, answer in one.values[:12])
        lines.append(f"To settle it: {one.how} ({fact}). {meaning}".rstrip() + ("." if meaning else ""))
    if decision.missing_proof:
        lines.append("Proof still missing: " + ", ".join(FACTS.get(one, one) for one in decision.missing_proof) + ".")
    return lines


def _pays(decision: Decision) -> list[str]:
    who: dict[str, str] = {
        "warranty": "The warranty should pay.", "shop": "The shop should pay, under its own warranty.",
        "customer": "The customer pays.", "open": "Who pays is open until the facts above are known.",
        "nobody": "There is nothing to pay for but the look itself.",
    }  # fmt: skip
    lines = [who[decision.payer]]
    if decision.could_pay:
        lines[0] += f" It could also be: {', '.join(decision.could_pay)}."
    if decision.best_for_customer is not None:
        lines.append(f"Best for the customer: {_title(decision, decision.best_for_customer)}.")
    if decision.best_paid is not None:
        lines.append(f"Best paid for the shop: {_title(decision, decision.best_paid)}.")
    route = decision.route
    text = ROUTES[route.way].format(maker=route.maker or "the maker")
    lines.append(text + (f" {ROUTES['far']} [{route.source}]" if route.far_owner else ""))
    used = [one for one in decision.forbidden if one.used]
    for one in used or ():
        lines.append(f"Never to be given as a reason under {_title(decision, one.term)}: {GROUNDS[one.ground]} [{one.source}]")
    lines += [_goodwill(one.kind, one.value) for one in decision.goodwill]
    if decision.answer in ("covered", "not_covered"):
        lines += _turn(decision)
    return lines


def _turn(decision: Decision) -> list[str]:
    if not decision.changes:
        return []
    facts = _and(sorted({FACTS.get(one.fact, one.fact) for one in decision.changes}))
    return [f"The answer would change if this turned out otherwise: {facts}."]


def _goodwill(kind: str, value: object) -> str:
    said: dict[str, Callable[[], str]] = {
        "days_past_the_end": lambda: f"For goodwill: it is only {value} {'day' if value == 1 else 'days'} past the end.",
        "hours_past_the_limit": lambda: f"For goodwill: it is only {shown(value)} hours past the limit.",
        "only_a_formality": lambda: f"For goodwill: only a formality stands against it ({shown(value)}).",
        "upkeep_is_on_record": lambda: "For goodwill: the upkeep is on record.",
        "first_owner": lambda: "For goodwill: it is still with its first owner.",
        "same_part_failed_before": lambda: f"For goodwill: the same part was repaired before ({value} times).",
        "known_defect": lambda: "For goodwill: the failure is a known pattern of this build.",
    }
    return said[kind]()


def _defects(decision: Decision) -> list[str]:
    lines = []
    for one in decision.known_defects:
        if isinstance(one, dict):
            fits = "fits" if one["fits"] == "fits" else "may fit"
            lines.append(f"Known defect {one['id']} {fits}: {one['title']}. Check: {one['check']} ({one['precaution']}).")
    return lines


def _and(items: list[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1] if items else ""
