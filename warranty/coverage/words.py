"""A decision in words, made on demand from its record: for papers, the API and the counter, in the language of who reads them."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import groupby

from shopdocs.documents.press.words import ENGLISH, Say, Words
from shopdocs.documents.press.words import words as words_in
from warranty.coverage.case import Step
from warranty.coverage.decision import Decision
from warranty.coverage.defect_words import defect_words
from warranty.coverage.domains import OTHER
from warranty.coverage.phrases import ANSWERS, COULD, GROUNDS, PAYS, REFUSED, ROUTES, WARNINGS
from warranty.coverage.record import Settling
from warranty.coverage.step_words import fact_words, listed, shown, term_words
from warranty.coverage.vocabulary import NO_LINK

COUNTED = frozenset({"unit.hours", "assembly.displacement_cc", "assembly.useful_life_hours"})


def words(decision: Decision, language: str = ENGLISH) -> list[str]:
    """The explanation, a sentence or two a line: the answer, what would settle it, who pays, each term with its steps, the advice.

    What holds stands before what is open, and that before what does not help. Raises ValueError for a language without words.
    """
    say = words_in(language)
    lines = [_answer(decision, say)]
    contradiction = say("Contradiction: {what}")
    lines += [contradiction.format(what=say(WARNINGS.get(code, code))) for code in decision.warnings]
    lines += _missing(decision, say) + _pays(decision, say) + _defects(decision, say)
    for one in sorted(decision.tried, key=lambda tried: ("holds", "open", "fails").index(tried.outcome)):
        lines += term_words(one, say)
    lines.append(say("Unless a term says otherwise, the anniversary day itself is still inside its period."))
    lines.append(
        say(
            "This is advice, worked out from the facts on file and the terms as they were read. Whoever gave the promise "
            "decides; a lawyer or a court has the last word on law. Confirm each source before relying on it."
        )
    )
    return lines


def _answer(decision: Decision, say: Say) -> str:
    asked = say("Judged for {judged}, asked for {asked}.") if decision.judged_on else say("Asked for {asked}.")
    day = asked.format(judged=decision.judged_on, asked=decision.as_of)
    if decision.refused:
        said = say("Cannot say yet: {reason}").format(reason=say(REFUSED[decision.refused]))
    elif decision.answer == "covered" and decision.by:
        terms = listed([_title(decision, one, say) for one in decision.by], say)
        said = say("Covered, by {terms}.").format(terms=terms)
    elif decision.answer == "covered":
        either = _either([_title(decision, one, say) for one in decision.by_one_of], say)
        said = say(
            "Covered whatever the missing facts turn out to be, by {terms}; which of them depends on those facts."
        ).format(terms=either)
    else:
        said = say(ANSWERS[decision.answer])
    return f"{said} {day}"


def _either(titles: list[str], say: Say) -> str:
    """'a or b or c'."""
    said = titles[0] if titles else ""
    for other in titles[1:]:
        said = say("{one} or {other}").format(one=said, other=other)
    return said


def _title(decision: Decision, term: str, say: Say) -> str:
    return say(next((one.title for one in decision.tried if one.term == term), term))


def _missing(decision: Decision, say: Say) -> list[str]:
    lines = []
    for one in decision.settling:
        meant = [say("{value}: {answer}").format(value=value, answer=said) for value, said in _runs(one, say)]
        told = say("To settle it: {how} ({fact}).").format(how=say(one.how), fact=fact_words(one.fact, say))
        lines.append(f"{told} {'; '.join(meant)}." if meant else told)
    if decision.missing_proof:
        facts = ", ".join(fact_words(one, say) for one in decision.missing_proof)
        lines.append(say("Proof still missing: {facts}.").format(facts=facts))
    return lines


def _runs(one: Settling, say: Say) -> list[tuple[str, str]]:
    """Each value with what it would mean; neighbouring days and figures that mean the same are put together."""
    pairs = [(_meant(one.fact, value, say), shown(answer, say)) for value, answer in one.values]
    if not (one.fact.endswith("_on") or one.fact.endswith("_date") or one.fact in COUNTED):
        return pairs
    runs = [(answer, [value for value, _ in group]) for answer, group in groupby(pairs, key=lambda pair: pair[1])]
    between = say("{first} to {last}")
    if len(runs) == 1:
        first, last = runs[0][1][0], runs[0][1][-1]
        return [(between.format(first=first, last=last) if len(pairs) > 1 else first, runs[0][0])]
    found: list[tuple[str, str]] = []
    for at, (answer, values) in enumerate(runs):  # between two values that were tried nothing comes out otherwise
        first, last = values[0], values[-1]
        text = say("up to {last}") if at == 0 else say("from {first} on") if at == len(runs) - 1 else between
        alone = first == last and 0 < at < len(runs) - 1
        found.append((first if alone else text.format(first=first, last=last), answer))
    return found


def _meant(fact: str, value: object, say: Say) -> str:
    if fact == "finding.caused_by" and value == NO_LINK:
        return say("nothing else")
    return shown(value, say).replace(OTHER, say(OTHER))


def _pays(decision: Decision, say: Words) -> list[str]:
    lines = [say(PAYS[decision.payer])]
    if decision.answer == "covered" and decision.payer == "open":
        lines = [say("Who pays cannot be said yet: a warranty or the shop, under its own, as the missing facts tell.")]
    elif decision.could_pay:
        could = ", ".join(say(COULD[who]) for who in decision.could_pay)
        lines[0] += " " + say("Who else could: {who}.").format(who=could)
    if decision.best_for_customer is not None:
        best = _title(decision, decision.best_for_customer, say)
        lines.append(say("Best for the customer: {term}.").format(term=best))
    if decision.best_paid is not None:
        best = _title(decision, decision.best_paid, say)
        lines.append(say("Best paid for the shop: {term}.").format(term=best))
    route = decision.route
    text = say(ROUTES[route.way]).format(maker=route.maker or say("the maker"))
    lines.append(text + (f" {say(ROUTES['far'])} [{route.source}]" if route.far_owner else ""))
    lines += _never(decision, say)
    lines += [_goodwill(one.kind, one.value, say) for one in decision.goodwill]
    if decision.answer in ("covered", "not_covered"):
        lines += _turn(decision, say)
    return lines


def _never(decision: Decision, say: Say) -> list[str]:
    """Grounds that may not be given, under the terms that hold or still may."""
    alive = [one.term for one in decision.tried if one.outcome != "fails"]
    lines = []
    for term in alive:
        named = dict.fromkeys(
            f"{say(GROUNDS[one.ground])}{f' ({_note(one.note, say)})' if one.note else ''} [{say(one.source)}]"
            for one in decision.forbidden
            if one.term == term
        )
        if named:
            never = say("Never to be given as a reason to refuse under {term}: {grounds}.")
            lines.append(never.format(term=_title(decision, term, say), grounds="; ".join(named)))
    return lines


def _note(note: str, say: Say) -> str:
    """A row's note; what was added to it as it was frozen stands after a semicolon (`rulebook._perhaps`)."""
    return "; ".join(say(part) for part in note.split("; "))


def _turn(decision: Decision, say: Say) -> list[str]:
    if not decision.changes:
        return []
    facts = listed(sorted({fact_words(one.fact, say) for one in decision.changes}), say)
    turn = say("The answer would change if this turned out otherwise: {facts}.").format(facts=facts)
    return [*_register_yet(decision, say), turn]


def _register_yet(decision: Decision, say: Say) -> list[str]:
    """Terms that fail only because nobody has registered the machine yet, while that can still be done in time."""
    alone = {one.term for one in decision.changes if one.rule == "registration" and one.fact == "unit.registered"}
    lines = []
    for one in decision.tried:
        step = next((step for step in one.steps if step.rule == "registration"), None)
        if decision.answer != "not_covered" or one.term not in alone or step is None:
            continue
        until = last_day_to_register(step)
        if until is not None and until.isoformat() >= decision.as_of:
            told = say(
                "Before the customer pays: it can still be registered, until {day} at the latest; registered by then, it "
                "is covered by {term}. Register it, record the day, and decide again."
            )
            lines.append(told.format(day=until.isoformat(), term=say(one.title)))
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


def _goodwill(kind: str, value: object, say: Words) -> str:
    if kind == "days_past_the_end" and isinstance(value, int):
        return say.counted(
            "For goodwill: it is only {days} day past the end.",
            "For goodwill: it is only {days} days past the end.",
            value,
        ).format(days=value)
    if kind == "same_part_failed_before" and isinstance(value, int):
        return say.counted(
            "For goodwill: the same part was repaired before ({count} time).",
            "For goodwill: the same part was repaired before ({count} times).",
            value,
        ).format(count=value)
    told = {
        "hours_past_the_limit": say("For goodwill: it is only {what} hours past the limit."),
        "only_a_formality": say("For goodwill: only a formality stands against it ({what})."),
        "upkeep_is_on_record": say("For goodwill: the upkeep is on record."),
        "first_owner": say("For goodwill: it is still with its first owner."),
        "known_defect": say("For goodwill: the failure is a known pattern of this build."),
    }[kind]
    return told.format(what=shown(value, say))


def _defects(decision: Decision, say: Words) -> list[str]:
    said = [defect_words(one, say) for one in decision.known_defects if isinstance(one, dict)]
    more = decision.record.known_defects_left_out
    if more:
        text = say.counted(
            "{count} more known defect fits or may fit; it stands beside the order.",
            "{count} more known defects fit or may fit; they stand beside the order.",
            more,
        )
        said.append(text.format(count=more))
    return said
