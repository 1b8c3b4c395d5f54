"""A decision in words, made on demand from its record: for papers, the API and the counter."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import Any

from orders.rules.trade import trade
from shopdocs.documents.press.words import Say
from warranty.coverage.case import Step
from warranty.coverage.decision import Decision
from warranty.coverage.phrases import FACTS, GROUNDS, PHRASES, REFUSED, ROUTES, SILENT_SCHEDULES, WARNINGS
from warranty.coverage.record import Settling, TermTried
from warranty.coverage.severe import MARK
from warranty.coverage.vocabulary import NO_LINK

COULD = {
    "warranty": "a warranty", "shop": "the shop, under its own warranty", "goodwill": "somebody's goodwill", "customer": "the customer",
}  # fmt: skip
COUNTED = frozenset({"unit.hours", "assembly.displacement_cc", "assembly.useful_life_hours"})


def words(decision: Decision, language: str = "en") -> list[str]:
    """The explanation, a sentence or two a line: the answer, what would settle it, who pays, each term with its steps, the advice.

    What holds stands before what is open, and that before what does not help.
    English is the language of this house; another raises ValueError.
    """
    if language != "en":
        raise ValueError(f"there are no words in '{language}'; ask for 'en'")
    lines = [_answer(decision)]
    lines += [f"Contradiction: {WARNINGS.get(code, code)}" for code in decision.warnings]
    lines += _missing(decision) + _pays(decision) + _defects(decision)
    for one in sorted(decision.tried, key=lambda tried: ("holds", "open", "fails").index(tried.outcome)):
        lines += term_words(one)
    lines.append("Unless a term says otherwise, the anniversary day itself is still inside its period.")
    lines.append(
        "This is advice, worked out from the facts on file and the terms as they were read. Whoever gave the promise "
        "decides; a lawyer or a court has the last word on law. Confirm each source before relying on it."
    )
    return lines


def _answer(decision: Decision) -> str:
    day = (
        f" Judged for {decision.judged_on}, asked for {decision.as_of}."
        if decision.judged_on
        else f" Asked for {decision.as_of}."
    )
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
    """One term with its period and every step; one that speaks of other machines or parts is told in a line."""
    other = next(
        (step for step in one.steps if step.outcome == "fails" and step.rule in ("machines", "component")), None
    )
    if one.outcome == "fails" and other is not None:
        return [f"{one.title} does not help. {step_words(other)}"]
    head = {"holds": "holds", "fails": "does not help", "open": "is still open"}[one.outcome]
    lines = [f"{one.title} ({one.source}, {one.edition}; {one.confidence}; {one.confirm}) {head}."]
    if one.last_day is not None and one.starts_on is not None:
        day = (
            "the anniversary day is inside"
            if one.anniversary_inside
            else "the anniversary day is the first day outside"
        )
        end = "does not end" if one.last_day == "never" else f"ends on {one.last_day}; {day}"
        lines.append(f"  Its period runs from {one.starts_on} and {end}.")
    if one.hours_limit is not None:
        may = ", a limit that the giver may, but need not, invoke" if one.hours_may_be_invoked else ""
        lines.append(f"  The last hour inside is {one.hours_limit} h; exactly that much is still inside{may}.")
    return lines + list(dict.fromkeys(f"  {step_words(step)}" for step in one.steps))


def step_words(step: Step) -> str:
    """One step in words, with its source."""
    mark = {"holds": "Yes", "fails": "No", "open": "Not known yet"}[step.outcome]
    phrase = PHRASES[step.rule][{"holds": 0, "fails": 1, "open": 2}[step.outcome]]
    want = step.want if isinstance(step.want, tuple) else ()
    if len(want) == 2 and want[0] in ("forbidden", "ground"):
        ground = GROUNDS.get(str(want[1]), str(want[1]))
        phrase = (
            f"{ground} may not be given as a reason to refuse here"
            if want[0] == "forbidden"
            else f"the reason is {ground}"
        )
    if len(want) == 3 and want[0] == "row":
        phrase += f", {GROUNDS.get(str(want[1]), str(want[1]))}"
    return f"{mark}: {phrase}{_known(step)} [{step.source}]"


def _known(step: Step) -> str:
    """What was known, in brackets, or what is missing."""
    fact = FACTS.get(step.fact, step.fact.replace("_", " "))
    if step.outcome == "open":
        return f" (missing: {fact})"
    value, want = step.value, step.want
    if step.rule == "time" and isinstance(value, tuple) and len(value) == 3:
        severe = "; the shorter period for severe service counts" if _severe(want) else ""
        runs = (
            f"{severe}; the period runs from {shown(value[1], str)} to {shown(value[2], str)}"
            if value[1] and value[2]
            else severe
        )
        return f" (found on {shown(value[0], str)}{runs})"
    if step.rule == "hours" and step.fact == "unit.hours" and isinstance(want, tuple) and want[0] is not None:
        half = f", {shown(want[1], str)} percent of the hours on the label" if want[1] is not None else ""
        half += ", for severe service" if _severe(want) else ""
        return f" ({fact}: {shown(value, str)}; the limit: {shown(want[0], str)}{half})"
    if step.rule == "scheduled" and value in SILENT_SCHEDULES:
        return f" ({SILENT_SCHEDULES[str(value)]})"
    if value is None or value == ():
        return ""
    if step.fact == "finding.caused_by" and value == NO_LINK:
        return " (nothing else caused it)"
    if step.fact == "finding.component" and isinstance(value, str):
        value = trade().components[value].name if value in trade().components else value
    asks = f"; the term: {shown(want, str)}" if step.rule in ("use", "machines") and step.outcome == "fails" else ""
    return f" ({fact}: {shown(value, str)}{asks})"


def _severe(want: object) -> bool:
    return isinstance(want, tuple) and (MARK,) in want


def shown(value: object, say: Say) -> str:
    """A value as people write it."""
    if isinstance(value, bool):
        return say("yes") if value else say("no")
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return ", ".join(shown(item, say) for item in value if item is not None)
    return say(str(value).replace("_", " "))


def _missing(decision: Decision) -> list[str]:
    lines = []
    for one in decision.settling:
        fact = FACTS.get(one.fact, one.fact.replace("_", " "))
        meaning = "; ".join(f"{value}: {answer.replace('_', ' ')}" for value, answer in _runs(one))
        lines.append(f"To settle it: {one.how} ({fact}). {meaning}".rstrip() + ("." if meaning else ""))
    if decision.missing_proof:
        lines.append("Proof still missing: " + ", ".join(FACTS.get(one, one) for one in decision.missing_proof) + ".")
    return lines


def _runs(one: Settling) -> list[tuple[str, str]]:
    """Each value with what it would mean; neighbouring days and figures that mean the same are put together."""
    pairs = [(_meant(one.fact, value), answer) for value, answer in one.values]
    if not (one.fact.endswith("_on") or one.fact.endswith("_date") or one.fact in COUNTED):
        return pairs
    runs = [(answer, [value for value, _ in group]) for answer, group in groupby(pairs, key=lambda pair: pair[1])]
    if len(runs) == 1:
        return [(f"{runs[0][1][0]} to {runs[0][1][-1]}" if len(pairs) > 1 else pairs[0][0], runs[0][0])]
    found: list[tuple[str, str]] = []
    for at, (answer, values) in enumerate(runs):  # between two values that were tried nothing comes out otherwise
        first, last = values[0], values[-1]
        told = f"up to {last}" if at == 0 else f"from {first} on" if at == len(runs) - 1 else f"{first} to {last}"
        found.append((first if first == last and 0 < at < len(runs) - 1 else told, answer))
    return found


def _meant(fact: str, value: object) -> str:
    return "nothing else" if fact == "finding.caused_by" and value == NO_LINK else shown(value, str)


def _pays(decision: Decision) -> list[str]:
    who: dict[str, str] = {
        "warranty": "The warranty should pay.", "shop": "The shop should pay, under its own warranty.",
        "customer": "The customer pays.", "open": "Who pays is open until the facts above are known.",
        "nobody": "There is nothing to pay for but the look itself.",
    }  # fmt: skip
    lines = [who[decision.payer]]
    if decision.answer == "covered" and decision.payer == "open":
        lines = ["Who pays cannot be said yet: a warranty or the shop, under its own, as the missing facts tell."]
    elif decision.could_pay:
        lines[0] += f" Who else could: {', '.join(COULD[who] for who in decision.could_pay)}."
    if decision.best_for_customer is not None:
        lines.append(f"Best for the customer: {_title(decision, decision.best_for_customer)}.")
    if decision.best_paid is not None:
        lines.append(f"Best paid for the shop: {_title(decision, decision.best_paid)}.")
    route = decision.route
    text = ROUTES[route.way].format(maker=route.maker or "the maker")
    lines.append(text + (f" {ROUTES['far']} [{route.source}]" if route.far_owner else ""))
    lines += _never(decision)
    lines += [_goodwill(one.kind, one.value) for one in decision.goodwill]
    if decision.answer in ("covered", "not_covered"):
        lines += _turn(decision)
    return lines


def _never(decision: Decision) -> list[str]:
    """Grounds that may not be given, under the terms that hold or still may."""
    alive = [one.term for one in decision.tried if one.outcome != "fails"]
    lines = []
    for term in alive:
        named = dict.fromkeys(
            f"{GROUNDS[one.ground]}{f' ({one.note})' if one.note else ''} [{one.source}]"
            for one in decision.forbidden
            if one.term == term
        )
        if named:
            lines.append(f"Never to be given as a reason to refuse under {_title(decision, term)}: {'; '.join(named)}.")
    return lines


def _turn(decision: Decision) -> list[str]:
    if not decision.changes:
        return []
    facts = _and(sorted({FACTS.get(one.fact, one.fact) for one in decision.changes}))
    return [*_register_yet(decision), f"The answer would change if this turned out otherwise: {facts}."]


def _register_yet(decision: Decision) -> list[str]:
    """Terms that fail only because nobody has registered the machine yet, while that can still be done in time."""
    alone = {one.term for one in decision.changes if one.rule == "registration" and one.fact == "unit.registered"}
    lines = []
    for one in decision.tried:
        step = next((step for step in one.steps if step.rule == "registration"), None)
        if decision.answer != "not_covered" or one.term not in alone or step is None:
            continue
        until = last_day_to_register(step)
        if until is not None and until.isoformat() >= decision.as_of:
            lines.append(
                f"Before the customer pays: it can still be registered, until {until.isoformat()} at the latest; "
                f"registered by then, it is covered by {one.title}. Register it, record the day, and decide again."
            )
    return lines


def last_day_to_register(step: Step) -> date | None:
    """The last day on which a registration is in time; None where the day of sale is not known. Days of a frozen step are text."""
    sold = step.value[1] if isinstance(step.value, tuple) else None
    if sold is None or not isinstance(step.want, int):
        return None
    try:
        return date.fromisoformat(str(sold)) + timedelta(days=step.want)
    except OverflowError:
        return None


def _goodwill(kind: str, value: object) -> str:
    said: dict[str, Callable[[], str]] = {
        "days_past_the_end": lambda: (
            f"For goodwill: it is only {value} {'day' if value == 1 else 'days'} past the end."
        ),
        "hours_past_the_limit": lambda: f"For goodwill: it is only {shown(value, str)} hours past the limit.",
        "only_a_formality": lambda: f"For goodwill: only a formality stands against it ({shown(value, str)}).",
        "upkeep_is_on_record": lambda: "For goodwill: the upkeep is on record.",
        "first_owner": lambda: "For goodwill: it is still with its first owner.",
        "same_part_failed_before": lambda: f"For goodwill: the same part was repaired before ({value} times).",
        "known_defect": lambda: "For goodwill: the failure is a known pattern of this build.",
    }
    return said[kind]()


def _defects(decision: Decision) -> list[str]:
    said = [defect_words(one) for one in decision.known_defects if isinstance(one, dict)]
    more = decision.record.known_defects_left_out
    if more:
        said.append(
            f"{more} more known {'defect fits or may' if more == 1 else 'defects fit or may'} fit; they stand beside the order."
        )
    return said


def defect_words(one: dict[str, Any]) -> str:
    """A known defect in words: how it compares, the check with its precaution, what would tell, remedy, and whether it is open."""
    lines = [f"Known defect {one['id']} {'fits' if one['fits'] == 'fits' else 'may fit'}: {_bare(one['title'])}."]
    open_facts = [what for what, outcome, _ in one["checks"] if outcome == "cannot tell"]
    if open_facts:
        lines.append(f"Not known yet: {_and(open_facts)}.")
    if not one["findings"]:
        lines.append("No finding shows it so far.")
    lines.append(f"Check: {_bare(one['check'])} ({_bare(one['precaution'])}).")
    for label, key in (("Speaks for it", "confirm"), ("Rules it out", "rule_out")):
        if one[key]:
            lines.append(f"{label}: {'; '.join(_bare(fact) for fact in one[key])}.")
    lines.append(f"Remedy: {_bare(one['remedy'])}.")
    if one["improved_since"]:
        lines.append(f"Improved part since: {_bare(one['improved_since'])}.")
    settled = {"varies": "in different ways"}.get(one["settled"], f"as {one['settled']}")
    lines.append(f"Usually settled {settled}; {OPEN_FOR[one['why']]} [{one['source']}]")
    return " ".join(lines)


def _bare(words: str) -> str:
    """Words that a sentence goes on after."""
    return words.rstrip(".")


OPEN_FOR = {
    "open": "it is open for this unit.",
    "expired": "its bulletin has expired.",
    "done_already": "it was done on this unit already.",
    "ask_whether_done": "ask whether it was done on this unit already.",
}


def _and(items: list[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1] if items else ""
