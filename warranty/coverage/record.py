"""The parts of a decision in full, as it is frozen: plain rows and the record that holds them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from warranty.coverage.case import Step

FORMAT = 1
ADVICE = "advice_only"


class TermTried(NamedTuple):
    """One term: outcome 'holds', 'fails' or 'open'; its period and hours where they are known; every step."""

    term: str
    version: int
    fingerprint: str
    title: str
    giver: str
    giver_name: str | None
    outcome: str
    starts_on: str | None
    last_day: str | None
    anniversary_inside: bool
    hours_limit: str | None
    hours_may_be_invoked: bool
    pays: tuple[str, ...]
    source: str
    edition: str
    confidence: str
    confirm: str
    steps: tuple[Step, ...]


class Settling(NamedTuple):
    """A fact that would help to settle the answer: how it is got, how dear that is (1 cheap to 7 dear), and what each value would mean.

    `values` pairs a value with the answer it would give, as far as nothing else is missing.
    """

    fact: str
    of: str
    cost: int
    how: str
    terms: tuple[str, ...]
    values: tuple[tuple[object, str], ...]


class Change(NamedTuple):
    """What would change a settled answer: this step of this term, if it came out otherwise."""

    term: str
    rule: str
    fact: str
    of: str
    value: object


class Forbidden(NamedTuple):
    """A ground that may not be given as a reason to refuse under this term, with the rule that forbids it. `used`: it was at issue here."""

    term: str
    ground: str
    source: str
    note: str
    used: bool


class Route(NamedTuple):
    """Whether this shop may do the work under the best term: 'repair_and_claim', 'approval_first', 'send_on', 'not_known', 'no_claim'."""

    way: str
    term: str
    maker: str | None
    far_owner: bool
    source: str


class Goodwill(NamedTuple):
    """A point to make when a term fails narrowly. `kind` names the point, `value` its figure."""

    term: str
    kind: str
    value: object


@dataclass(frozen=True)
class Record:
    """A decision in full, as it is frozen. Built on demand from the trace, for words and JSON cost more than the answer."""

    finding: str
    answer: str
    as_of: str
    judged_on: str | None
    by: tuple[str, ...]
    by_one_of: tuple[str, ...]
    best_for_customer: str | None
    best_paid: str | None
    payer: str
    could_pay: tuple[str, ...]
    tried: tuple[TermTried, ...]
    missing_proof: tuple[str, ...]
    settling: tuple[Settling, ...]
    changes: tuple[Change, ...]
    goodwill: tuple[Goodwill, ...]
    route: Route
    forbidden: tuple[Forbidden, ...]
    refused: str = ""
    warnings: tuple[str, ...] = ()
    known_defects: tuple[object, ...] = ()
    known_defects_left_out: int = 0  # counted, not named; written down only where there are any
    advice: str = ADVICE
    format: int = FORMAT
