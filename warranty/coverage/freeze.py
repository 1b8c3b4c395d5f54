"""Freezes a set of decisions with the facts and terms they were made from, and works them out again from there."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from warranty.coverage.codec import finding_from, to_record, unit_from
from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision, from_json, to_json
from warranty.coverage.defect_files import defect_from_dict, defect_to_dict
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.known_defects import KnownDefect
from warranty.coverage.reading import term_from_dict
from warranty.coverage.shapes import Term, term_to_dict


@dataclass(frozen=True)
class Frozen:
    """What an estimate or claim keeps: `facts` and `terms` as canonical JSON, and each decision's own JSON by finding id."""

    facts: str
    terms: str
    decisions: Mapping[str, str]


def _canonical(value: object) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def freeze(
    unit: UnitFacts, findings: Sequence[FindingFacts], terms: Sequence[Term], as_of: date,
    known_defects: Sequence[KnownDefect] = (),
) -> Frozen:  # fmt: skip
    """Decides, and keeps all that the answers rest on."""
    decisions = decide(unit, findings, terms, as_of, known_defects)
    facts = {
        "unit": to_record(unit), "findings": [to_record(one) for one in findings], "as_of": as_of.isoformat(),
        "known_defects": [defect_to_dict(one) for one in known_defects],
    }  # fmt: skip
    return Frozen(
        _canonical(facts), _canonical([term_to_dict(term) for term in terms]),
        {finding: to_json(one) for finding, one in decisions.items()},
    )  # fmt: skip


def served(frozen: Frozen) -> dict[str, Decision]:
    """The stored answers, as they were."""
    return {finding: from_json(text) for finding, text in frozen.decisions.items()}


def recompute(frozen: Frozen) -> dict[str, Decision]:
    """The answers worked out anew from the stored facts and terms; their JSON equals the stored one."""
    facts = json.loads(frozen.facts)
    terms = [term_from_dict(record, f"stored term {at}") for at, record in enumerate(json.loads(frozen.terms), 1)]
    return decide(
        unit_from(facts["unit"]), [finding_from(one) for one in facts["findings"]], terms,
        date.fromisoformat(facts["as_of"]), [defect_from_dict(one) for one in facts["known_defects"]],
    )  # fmt: skip
