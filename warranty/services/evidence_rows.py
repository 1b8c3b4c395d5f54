"""The evidence table for one finding of the shop: which causes are possible, which signs tell them apart, what to check."""

from __future__ import annotations

from dataclasses import dataclass

from orders.models import Finding
from warranty.evidence.contradictions import Doubt
from warranty.evidence.table import EvidenceRow, RankedCause, Sign, evidence_for, roots_of, signs_for, table, tell_apart

from .doubts import doubts_of


@dataclass(frozen=True)
class Evidence:
    """What the table says of a finding. `asides` are signs written in words that no row of the table knows.

    `doubts`: what does not fit between the cause marked, the signs and the facts.
    """

    rows: tuple[EvidenceRow, ...]
    causes: tuple[RankedCause, ...]
    signs: tuple[Sign, ...]
    roots: tuple[tuple[str, str], ...]
    asides: tuple[str, ...]
    doubts: tuple[Doubt, ...]


def evidence_of(*, finding: Finding) -> Evidence:
    """The table's rows for the finding's component, condition and family, ranked by the signs it records."""
    family = finding.order.unit.model.family
    known = table().signs
    asked = (finding.component, finding.condition, family)
    signs = [str(sign) for sign in finding.signs]
    return Evidence(
        rows=evidence_for(*asked),
        causes=tell_apart(*asked, [sign for sign in signs if sign in known]),
        signs=signs_for(*asked),
        roots=roots_of(*asked),
        asides=tuple(sign for sign in signs if sign not in known),
        doubts=tuple(doubts_of(finding.order)[str(finding.pk)]),
    )
