"""Terms and their steps in words: what was asked, what was known, and by which rule. Each is a whole message of the catalogue."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from orders.rules.trade import trade
from shopdocs.documents.press.words import Say
from warranty.coverage.case import Step
from warranty.coverage.phrases import FACTS, GROUNDS, HEADS, MARKS, PHRASES, SILENT_SCHEDULES
from warranty.coverage.record import TermTried
from warranty.coverage.severe import MARK
from warranty.coverage.vocabulary import NO_LINK


def term_words(one: TermTried, say: Say) -> list[str]:
    """One term with its period and every step; one that speaks of other machines or parts is told in a line."""
    other = next(
        (step for step in one.steps if step.outcome == "fails" and step.rule in ("machines", "component")), None
    )
    if one.outcome == "fails" and other is not None:
        said = say("{term} does not help.").format(term=say(one.title))
        return [f"{said} {step_words(other, say)}"]
    head = say(HEADS[one.outcome]).format(
        term=say(one.title), source=say(one.source), edition=say(one.edition), confidence=say(one.confidence),
        confirm=say(one.confirm),
    )  # fmt: skip
    lines = [head, *(f"  {line}" for line in _limits(one, say))]
    return lines + list(dict.fromkeys(f"  {step_words(step, say)}" for step in one.steps))


def _limits(one: TermTried, say: Say) -> list[str]:
    """Its period and its hours, each with what its end means."""
    lines = []
    if one.last_day is not None and one.starts_on is not None:
        if one.last_day == "never":
            period = say("Its period runs from {first} and does not end.")
        elif one.anniversary_inside:
            period = say("Its period runs from {first} and ends on {last}; the anniversary day is inside.")
        else:
            period = say(
                "Its period runs from {first} and ends on {last}; the anniversary day is the first day outside."
            )
        lines.append(period.format(first=one.starts_on, last=one.last_day))
    if one.hours_limit is not None:
        may = say(
            "The last hour inside is {hours} h; exactly that much is still inside, a limit that the giver may, but need "
            "not, invoke."
        )
        plain = say("The last hour inside is {hours} h; exactly that much is still inside.")
        lines.append((may if one.hours_may_be_invoked else plain).format(hours=one.hours_limit))
    return lines


def step_words(step: Step, say: Say) -> str:
    """One step in words, with its source."""
    told = say(MARKS[step.outcome]).format(phrase=_phrase(step, say))
    known = _known(step, say)
    return " ".join(part for part in (told, known, f"[{say(step.source)}]") if part)


def _phrase(step: Step, say: Say) -> str:
    phrase = say(PHRASES[step.rule][{"holds": 0, "fails": 1, "open": 2}[step.outcome]])
    want = step.want if isinstance(step.want, tuple) else ()
    if len(want) == 2 and want[0] == "forbidden":
        return say("{ground} may not be given as a reason to refuse here").format(ground=_ground(want[1], say))
    if len(want) == 2 and want[0] == "ground":
        return say("the reason is {ground}").format(ground=_ground(want[1], say))
    if len(want) == 3 and want[0] == "row":
        return say("{phrase}, {ground}").format(phrase=phrase, ground=_ground(want[1], say))
    return phrase


def _ground(ground: object, say: Say) -> str:
    return say(GROUNDS.get(str(ground), str(ground)))


def _known(step: Step, say: Say) -> str:
    """What was known, in brackets, or what is missing."""
    fact = fact_words(step.fact, say)
    if step.outcome == "open":
        return say("(missing: {fact})").format(fact=fact)
    value, want = step.value, step.want
    if step.rule == "time" and isinstance(value, tuple) and len(value) == 3:
        return _found_on(value, _severe(want), say)
    if step.rule == "hours" and step.fact == "unit.hours" and isinstance(want, tuple) and want[0] is not None:
        return _against_the_limit(fact, value, want, say)
    if step.rule == "scheduled" and value in SILENT_SCHEDULES:
        return f"({say(SILENT_SCHEDULES[str(value)])})"
    if value is None or value == ():
        return ""
    if step.fact == "finding.caused_by" and value == NO_LINK:
        return say("(nothing else caused it)")
    if step.fact == "finding.component" and isinstance(value, str):
        value = trade().components[value].name if value in trade().components else value
    if step.rule in ("use", "machines") and step.outcome == "fails":
        asked = say("({fact}: {value}; the term: {wanted})")
        return asked.format(fact=fact, value=shown(value, say), wanted=shown(want, say))
    return say("({fact}: {value})").format(fact=fact, value=shown(value, say))


def _found_on(value: Sequence[object], severe: bool, say: Say) -> str:
    """The day of the finding, and the period that it was laid against where both its ends are known."""
    day, first, last = (shown(one, say) for one in value)
    if not (value[1] and value[2]):
        text = (
            say("(found on {day}; the shorter period for severe service counts)") if severe else say("(found on {day})")
        )
        return text.format(day=day)
    text = (
        say("(found on {day}; the shorter period for severe service counts; the period runs from {first} to {last})")
        if severe
        else say("(found on {day}; the period runs from {first} to {last})")
    )
    return text.format(day=day, first=first, last=last)


def _against_the_limit(fact: str, value: object, want: Sequence[object], say: Say) -> str:
    """The hours beside the limit, and how that came about where it is a part of those on the label."""
    severe, part = _severe(want), want[1] is not None
    if part and severe:
        text = say(
            "({fact}: {hours}; the limit: {limit}, {percent} percent of the hours on the label, for severe service)"
        )
    elif part:
        text = say("({fact}: {hours}; the limit: {limit}, {percent} percent of the hours on the label)")
    elif severe:
        text = say("({fact}: {hours}; the limit: {limit}, for severe service)")
    else:
        text = say("({fact}: {hours}; the limit: {limit})")
    return text.format(fact=fact, hours=shown(value, say), limit=shown(want[0], say), percent=shown(want[1], say))


def _severe(want: object) -> bool:
    return isinstance(want, tuple) and (MARK,) in want


def fact_words(fact: str, say: Say) -> str:
    """What people call a fact."""
    return say(FACTS.get(fact, fact.replace("_", " ")))


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


def listed(items: Sequence[str], say: Say) -> str:
    """'a, b and c'."""
    if len(items) < 2:
        return "".join(items)
    return say("{items} and {last}").format(items=", ".join(items[:-1]), last=items[-1])
