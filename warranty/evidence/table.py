"""The evidence table: which signs tell one cause from another, what would prove it, how it is usually settled.

Pure. A row is one explanation for a component in a condition: the cause it points to, the signs that speak for it,
the signs that rule it out, and the causes it is mistaken for. It says what is likely, never who pays: cover is
decided by the terms.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from orders.rules import strict, trade
from warranty.evidence.rows import EvidenceRow, Sign, Table, load

Standing = Literal["supported", "contested", "open", "ruled_out"]
STANDINGS: tuple[Standing, ...] = ("supported", "contested", "open", "ruled_out")


@dataclass(frozen=True)
class Reason:
    """Why a cause stands where it stands: a row, and the sign seen (None while no sign has been looked for)."""

    row: str
    sign: Sign | None
    speaks_for: bool | None
    words: str


@dataclass(frozen=True)
class RankedCause:
    """A cause with its standing, the reasons, and the checks that would settle it."""

    cause: str
    standing: Standing
    reasons: tuple[Reason, ...]
    checks: tuple[str, ...]


def evidence_for(component: str, condition: str, family: str) -> tuple[EvidenceRow, ...]:
    """The rows about this component in this condition on this family; empty when the table is silent.

    Raises trade.UnknownCode (with near matches) for a code that does not exist.
    """
    return table().find(component, condition, family)


def signs_for(component: str, condition: str, family: str) -> tuple[Sign, ...]:
    """The signs worth looking for, each once, in the order of the rows: the choices to offer at a finding."""
    found: dict[str, Sign] = {}
    for row in evidence_for(component, condition, family):
        for sign in (*row.signs_for, *row.signs_against):
            found.setdefault(sign.code, sign)
    return tuple(found.values())


def tell_apart(component: str, condition: str, family: str, observed_signs: Iterable[str]) -> tuple[RankedCause, ...]:
    """Ranks the causes the table knows for this finding by the signs seen.

    Order: supported (more signs first), contested, open, ruled out; within these the order of the table. One
    explanation ruled out leaves the cause open while another explanation with the same cause stands. Signs that
    exist but say nothing about this finding are left aside; an unknown sign raises trade.UnknownCode.
    """
    known = table().signs
    observed = set(observed_signs)
    for code in sorted(observed):
        if code not in known:
            raise trade.UnknownCode(strict.no_such("sign", code, known))
    by_cause: dict[str, list[EvidenceRow]] = {}
    for row in evidence_for(component, condition, family):
        by_cause.setdefault(row.points_to, []).append(row)
    ranked = [_rank(cause, rows, observed) for cause, rows in by_cause.items()]
    return tuple(sorted(ranked, key=lambda r: (STANDINGS.index(r.standing), -_support(r))))


def roots_of(component: str, condition: str, family: str) -> tuple[tuple[str, str], ...]:
    """(component, condition) pairs that commonly come before this finding: ask for them in a 'caused by'."""
    pairs = [pair for row in evidence_for(component, condition, family) for pair in row.follows_from]
    return tuple(dict.fromkeys(pairs))


@cache
def table() -> Table:
    """The shipped table, read on first use and kept."""
    return load()


def _standing(row: EvidenceRow, observed: Collection[str]) -> Standing:
    pro = any(sign.code in observed for sign in row.signs_for)
    con = any(sign.code in observed for sign in row.signs_against)
    if pro:
        return "contested" if con else "supported"
    return "ruled_out" if con else "open"


def _rank(cause: str, rows: list[EvidenceRow], observed: Collection[str]) -> RankedCause:
    standings = [_standing(row, observed) for row in rows]
    best = min(standings, key=STANDINGS.index)
    reasons: list[Reason] = []
    for row, standing in zip(rows, standings, strict=True):
        seen = [(sign, True) for sign in row.signs_for] + [(sign, False) for sign in row.signs_against]
        hits = [(sign, pro) for sign, pro in seen if sign.code in observed]
        reasons += [Reason(row.code, sign, pro, sign.words) for sign, pro in hits]
        if standing == "open":
            reasons.append(Reason(row.code, None, None, f"not looked for yet: {row.signs_for[0].words}"))
    checks = tuple(row.prove for row, standing in zip(rows, standings, strict=True) if standing != "ruled_out")
    return RankedCause(cause, best, tuple(reasons), checks)


def _support(ranked: RankedCause) -> int:
    return len({reason.sign.code for reason in ranked.reasons if reason.sign and reason.speaks_for})
