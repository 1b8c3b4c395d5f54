"""A frozen decision as the claim prints it: the answer in words, the term that carries it, and its steps."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.rules import trade
from orders.services.wording import paper_language
from shopdocs.documents.press.values import day_words, sentence
from shopdocs.documents.press.words import Say, words
from warranty.coverage.decision import from_json
from warranty.coverage.phrases import FACTS
from warranty.coverage.step_words import shown
from warranty.coverage.terms import term_from_dict
from warranty.coverage.words import words as coverage_words
from warranty.models import CoverageDecision, TermCopy

ANSWERS = {
    "covered": "Covered",
    "not_covered": "Not covered",
    "cannot_say_yet": "Cannot say yet",
    "no_fault": "No fault: explain",
}
OUTCOMES = {"holds": "yes", "fails": "no", "open": "not known"}
QUESTIONS = {
    "machines": "Is it one of the machines that the term speaks of?",
    "label": "Does the engine's label put it under this rule?",
    "assembly": "Is it an assembly of this giver?",
    "component": "Is the component one that the term names?",
    "owner": "Does the promise run to this owner?",
    "use": "Does the term cover this use?",
    "version": "Was this version in force?",
    "time": "Was the fault found inside the period?",
    "start": "Is the day known from which the period runs?",
    "hours": "Is it within the hours?",
    "no_shorter_than": "Is the period as long as the longest free promise?",
    "scheduled": "Was the part not due for replacement before?",
    "proof": "Is there the proof that the term asks for?",
    "registration": "Was it registered as the term asks?",
    "records": "Are there the maintenance records that the term asks for?",
    "plan": "Was this plan bought for the unit?",
    "campaign": "Is the campaign still open for the unit?",
    "cause": "Is the cause one that the term answers for?",
    "consequent": "Did it fail by itself, or does the term pay for what follows from another fault?",
    "pays": "Does the term pay for this?",
}


# The same rule asks several things of a machine: each in words of its own.
OF_MACHINE = {
    "unit.maker": "Is it a machine of the maker that the term speaks of?",
    "unit.model": "Is it a model that the term speaks of?",
    "unit.family": "Is it a kind of machine that the term speaks of?",
    "unit.power": "Is its power source one that the term speaks of?",
    "unit.region": "Is it used where the term holds?",
    "unit.hand_held": "Does the term speak of hand-held machines, or of others, as this one is?",
    "unit.build_date": "Was it built in the time that the term speaks of?",
    "unit.sold_on": "Was it sold in the time that the term speaks of?",
}
DAY = re.compile(r"\d{4}-\d{2}-\d{2}\Z")


def spoken(day: str | dt.date, say: Say) -> str:
    """A date, or its ISO text, as papers write it: '9 Nov 2026'."""
    return day_words(dt.date.fromisoformat(day) if isinstance(day, str) else day, say)


def frozen_record(decision: CoverageDecision) -> dict[str, Any]:
    """The frozen decision as a plain record."""
    record: dict[str, Any] = json.loads(decision.decision)
    return record


def explanation(decision: CoverageDecision) -> list[str]:
    """The frozen decision in sentences of the shop's language, made on demand: the answer, every term with its steps, what
    is missing, the advice. Findings are named by their parts, as people know them, not by their ids.
    """
    language = paper_language(decision.shop)
    names = finding_names(decision, words(language))
    return [_named(line, names) for line in coverage_words(from_json(decision.decision), language)]


def finding_names(decision: CoverageDecision, say: Say) -> dict[str, str]:
    """What people call each finding that the decision looked at: its part, with the condition where a part stands twice."""
    told = [(one["id"], one["component"], one.get("condition")) for one in decision.facts.facts.get("findings", [])]
    twice = Counter(component for _, component, _ in told)
    names = {}
    for key, component, condition in told:
        part = say(trade.component(component).name)
        more = f" ({say(trade.condition(condition).name)})" if twice[component] > 1 and condition else ""
        names[key] = part + more
    return names


def _named(line: str, names: dict[str, str]) -> str:
    for key, name in names.items():
        line = line.replace(key, name)
    return line


def carrying_term(record: dict[str, Any]) -> dict[str, Any] | None:
    """The tried term that the claim rests on: the best paid, else the customer's best, else any that holds or is open."""
    by_id = {tried["term"]: tried for tried in record["tried"]}
    for wanted in (record["best_paid"], record["best_for_customer"], *record["by"], *record["by_one_of"]):
        if wanted in by_id:
            found: dict[str, Any] = by_id[wanted]
            return found
    return next((tried for tried in record["tried"] if tried["outcome"] == "open"), None)


@dataclass(frozen=True)
class TermPays:
    """What the carrying term pays of labour and parts; a percentage of None is all of it. `words`: the term with its source."""

    labour: bool = True
    parts: bool = True
    labour_percent: Decimal | None = None
    parts_percent: Decimal | None = None
    words: str = ""


def term_pays(decision: CoverageDecision) -> TermPays:
    """By the term as it was frozen with the decision; everything, where no term carries it or its copy is gone."""
    tried = carrying_term(frozen_record(decision))
    copies = TermCopy.objects.for_shop(decision.shop)
    copy = copies.filter(fingerprint=tried["fingerprint"]).first() if tried else None
    if copy is None:
        return TermPays()
    pays = term_from_dict(json.loads(copy.data), "frozen term").pays
    words = f"{tried['title']}, {tried['source']}, edition {tried['edition']}" if tried else ""
    return TermPays(pays.labour, pays.parts, pays.labour_percent, pays.parts_percent, words)


def decision_facts(decision: CoverageDecision, say: Say) -> dict[str, Any]:
    """What the claim keeps of its decision; the whole of it stays in its own record, named by id and SHA-256.

    The record holds facts and no sentence of ours, so its words are those of the claim's language.
    """
    record = frozen_record(decision)
    tried = carrying_term(record)
    return {
        "id": str(decision.pk),
        "sha256": decision.sha256,
        "as_of": decision.as_of.isoformat(),
        "answer": decision.answer,
        "answer_words": say(ANSWERS[decision.answer]),
        "term": _term_words(tried, say) if tried else "",
        "term_id": tried["term"] if tried else "",
        "fingerprint": tried["fingerprint"] if tried else "",
        "steps": _steps(tried["steps"], say) if tried else [],
        "also": [_term_words(one, say) for one in record["tried"] if one["outcome"] == "holds" and one is not tried],
    }


def _term_words(tried: dict[str, Any], say: Say) -> str:
    parts = [say(tried["title"])]
    if tried["last_day"] == "never":
        parts.append(say("without an end"))
    elif tried["last_day"]:
        inside = say("last day {day} (that day is inside)")
        outside = say("last day {day} (the anniversary is outside)")
        last = inside if tried["anniversary_inside"] else outside
        parts.append(last.format(day=spoken(tried["last_day"], say)))
    if tried["hours_limit"]:
        parts.append(say("hours to {hours}").format(hours=tried["hours_limit"]))
    cited = say("{source}, edition {edition}")
    parts.append(cited.format(source=say(tried["source"]), edition=say(tried["edition"])))
    return "; ".join(part for part in parts if part)


def _known(step: dict[str, Any], say: Say) -> str:
    """The value of a step for people; of the step of time, the day found and the period it was laid against."""
    value = step["value"]
    if value is None:
        return say("not known")
    if step["rule"] == "time" and isinstance(value, list) and len(value) == 3 and all(value):
        endless = value[2] == dt.date.max.isoformat()
        period = say("{day}, period {first} without an end") if endless else say("{day}, period {first} to {last}")
        return period.format(day=spoken(value[0], say), first=spoken(value[1], say), last=spoken(value[2], say))
    if step["fact"] == "finding.component" and value in trade.trade().components:
        return say(trade.component(value).name)
    if isinstance(value, list):
        return ", ".join(_plain(one, say) for one in value if one is not None)
    return _plain(value, say)


def _plain(value: Any, say: Say) -> str:
    """A day as papers write it, anything else as the explanation shows it."""
    return spoken(value, say) if isinstance(value, str) and DAY.match(value) else shown(value, say)


def _steps(steps: list[dict[str, Any]], say: Say) -> list[dict[str, str]]:
    """Each step once: two rules of a term may ask the same and get the same answer."""
    told: list[dict[str, str]] = []
    for one in steps:
        step = _step(one, say)
        if step not in told:
            told.append(step)
    return told


def _step(step: dict[str, Any], say: Say) -> dict[str, str]:
    because = ""
    if step["fact"]:
        fact = say(FACTS.get(step["fact"], step["fact"].replace("_", " ")))
        because = sentence(f"{fact}: {_known(step, say)}")
    return {
        "question": _question(step, say),
        "answer": say(OUTCOMES[step["outcome"]]),
        "because": because[:600],
        "source": say(step["source"]),
    }


def _question(step: dict[str, Any], say: Say) -> str:
    asked = OF_MACHINE.get(step["fact"] or "") if step["rule"] == "machines" else None
    return say(asked or QUESTIONS.get(step["rule"], step["rule"].replace("_", " ")))
