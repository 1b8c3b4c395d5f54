"""Deciding who should pay: asks the engine, freezes its answer with the facts and terms that made it, and stands by it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from orders.models import Finding, RepairOrder
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff, User
from shopdocs.shops.services import record_event
from warranty.coverage.codec import finding_from, to_record, unit_from
from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision, to_json
from warranty.coverage.defect_files import defect_from_dict, defect_to_dict
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.known_defects import KnownDefect
from warranty.coverage.terms import Term, term_from_dict
from warranty.models import CoverageDecision, DecisionFacts, TermCopy

from .circumstances import claim_to_file
from .doubts import as_records, weighed
from .facts import finding_facts, order_to_decide, unit_facts
from .known_defects import known_defects_for
from .terms import terms_for

MOST_AHEAD = dt.timedelta(days=3660)


@transaction.atomic
def decide_order(*, shop: Shop, by: Staff, order: RepairOrder, as_of: dt.date | None = None) -> list[CoverageDecision]:
    """Decides every finding of the order as of a day (today unless said) and freezes each answer. In finding order.

    What is kept has a day on which the machine was here. Raises Refused for another one, and Conflict for an order that was given
    back, unless a claim of it is still to be filed.
    """
    day = as_of or shop.today()
    whole = order_to_decide(order)
    _refuse_to_keep(whole, day)
    worked = _worked_out(whole, day)
    defects = _that_fit(worked.defects, worked.decisions.values())
    left_out = next(iter(worked.decisions.values())).record.known_defects_left_out
    facts = _freeze(shop, whole, day, worked.unit, worked.findings, worked.terms, defects, left_out, worked.doubts())
    rows = [_row(shop, by.user, whole, row, day, one, facts) for row, one in worked.rows()]
    CoverageDecision.objects.bulk_create(rows, batch_size=500)
    record_event(
        shop=shop, subject=whole.subject, verb="decided", by=by, words=f"{len(rows)} findings as of {day}",
        facts={"facts": str(facts.pk), "answers": _count(rows)},
    )  # fmt: skip
    return rows


def ask_order(*, shop: Shop, order: RepairOrder, as_of: dt.date | None = None) -> list[CoverageDecision]:
    """The answers as of any day, today unless said, worked out from what is on record now. Nothing is kept of them."""
    day = as_of or shop.today()
    whole = order_to_decide(order)
    worked = _worked_out(whole, day)
    unkept = DecisionFacts(
        shop=shop,
        order=whole,
        as_of=day,
        facts={"findings": [to_record(one) for one in worked.findings], "doubts": worked.doubts()},
    )
    return [_row(shop, None, whole, row, day, one, unkept) for row, one in worked.rows()]


@dataclass(frozen=True)
class _Worked:
    """What the engine was given, and what it answered."""

    order: RepairOrder
    day: dt.date
    unit: UnitFacts
    findings: tuple[FindingFacts, ...]
    terms: tuple[Term, ...]
    defects: list[KnownDefect]
    decisions: Mapping[str, Decision]

    def rows(self) -> list[tuple[Finding, Decision]]:
        """Each finding with its answer, in finding order."""
        by_id = {str(row.pk): row for row in self.order.findings.all()}
        return [(by_id[key], one) for key, one in self.decisions.items()]

    def doubts(self) -> dict[str, list[dict[str, Any]]]:
        """What does not fit in each finding, as it is frozen."""
        return as_records(weighed(self.order, self.unit, self.findings, self.day))


def _worked_out(order: RepairOrder, day: dt.date) -> _Worked:
    found = finding_facts(order=order)
    if not found:
        raise Conflict("order", "This order has no finding yet.", "Record what was found, then ask who should pay.")
    unit = unit_facts(order=order, as_of=day)
    terms = terms_for(shop=order.shop, as_of=day)
    defects = known_defects_for(shop=order.shop, unit=unit, as_of=day)
    return _Worked(order, day, unit, found, terms, defects, decide(unit, found, terms, day, defects))


def _refuse_to_keep(order: RepairOrder, day: dt.date) -> None:
    """Refuses what makes no sense to keep; it may still be asked (`ask_order`)."""
    ask = f"To ask about another day without keeping the answer: /api/v1/orders/{order.pk}/decisions/asked/."
    if day < order.received_on:
        raise Refused(
            "as_of",
            f"{day} is before the machine came in ({order.received_on}).",
            f"Use that day or a later one. {ask}",
        )
    if day > order.shop.today() + MOST_AHEAD:
        raise Refused("as_of", f"{day} is over ten years ahead.", f"Use an earlier day. {ask}")
    if order.state == RepairOrder.State.GIVEN_BACK and not claim_to_file(order):
        raise Conflict(
            "order", f"{order.number} was given back, and no claim of it is to be filed: its answers stay as they are.",
            f"Read the decisions that are there, or check the machine in again. {ask}",
        )  # fmt: skip


def _count(rows: list[CoverageDecision]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for row in rows:
        counts[row.answer] = counts.get(row.answer, 0) + 1
    return counts


def _that_fit(defects: Iterable[KnownDefect], decisions: Iterable[Decision]) -> list[KnownDefect]:
    """Only what some decision names is frozen: each pattern is compared by itself, so the rest changes nothing."""
    named = {(one["id"], one["version"]) for decision in decisions for one in decision.known_defects}  # type: ignore[index]
    return [one for one in defects if (one.id, one.version) in named]


def _freeze(
    shop: Shop, order: RepairOrder, day: dt.date, unit: UnitFacts, findings: tuple[FindingFacts, ...],
    terms: tuple[Term, ...], defects: list[KnownDefect], left_out: int,
    doubts: dict[str, list[dict[str, Any]]],
) -> DecisionFacts:  # fmt: skip
    distinct = {term.fingerprint: term for term in terms}
    rows = TermCopy.objects.for_shop(shop)
    kept = set(rows.filter(fingerprint__in=distinct).values_list("fingerprint", flat=True))
    TermCopy.objects.bulk_create(
        [TermCopy(shop=shop, fingerprint=key, data=term.data) for key, term in distinct.items() if key not in kept],
        ignore_conflicts=True,
    )
    made: DecisionFacts = DecisionFacts.objects.create(
        shop=shop, order=order, as_of=day,
        facts={
            "unit": to_record(unit), "findings": [to_record(one) for one in findings], "terms": sorted(distinct),
            "known_defects": [defect_to_dict(one) for one in defects], "known_defects_left_out": left_out, "doubts": doubts,
        },
    )  # fmt: skip
    return made


def _row(
    shop: Shop, by: User | None, order: RepairOrder, finding: Finding, day: dt.date, decision: Decision,
    facts: DecisionFacts,
) -> CoverageDecision:  # fmt: skip
    text = to_json(decision)
    return CoverageDecision(
        shop=shop, by=by, order=order, finding=finding, as_of=day, answer=decision.answer, decision=text,
        sha256=digest(text), facts=facts,
    )  # fmt: skip


def digest(text: str) -> str:
    """SHA-256 of a frozen decision's bytes."""
    return hashlib.sha256(text.encode()).hexdigest()


def frozen_inputs(
    facts: DecisionFacts,
) -> tuple[UnitFacts, tuple[FindingFacts, ...], tuple[Term, ...], list[KnownDefect]]:
    """What the engine was given, from the frozen records alone. Raises Conflict when a term is no longer there."""
    held: dict[str, Any] = facts.facts
    rows = TermCopy.objects.for_shop(facts.shop).filter(fingerprint__in=held["terms"])
    copies = {row.fingerprint: row.data for row in rows}
    if set(copies) != set(held["terms"]):
        raise Conflict(
            "terms", "A term of this decision is not on file any more.", "Restore the records from a backup."
        )
    terms = tuple(term_from_dict(json.loads(copies[key]), "frozen term") for key in held["terms"])
    return (
        unit_from(held["unit"]),
        tuple(finding_from(one) for one in held["findings"]),
        terms,
        [defect_from_dict(one, "frozen known defect") for one in held["known_defects"]],
    )


def recompute(decision: CoverageDecision) -> str:
    """The decision's JSON, worked out anew from its frozen facts and terms: the same text as long as the engine stands by it."""
    unit, findings, terms, defects = frozen_inputs(decision.facts)
    left_out = decision.facts.facts.get("known_defects_left_out")  # None: frozen when all were named
    answers = decide(unit, findings, terms, decision.as_of, defects, left_out)
    return to_json(answers[str(decision.finding_id)])


def stands(decision: CoverageDecision) -> bool:
    """Whether the stored bytes are the stored hash's, and recomputing gives them again."""
    return digest(decision.decision) == decision.sha256 and recompute(decision) == decision.decision
