"""What a term is: one promise of cover, or one protection that forbids grounds of refusal.

Terms are data. Law comes from YAML in warranty/terms (`parse_terms`); a maker's promises are records of a shop in the
same schema (`term_from_dict`). The schema is in `reading`, the public door is `terms`; this module holds the shapes.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cached_property


@dataclass(frozen=True)
class Source:
    """Where a term was read: citation, edition seen, address, confidence, and the request to confirm it."""

    cite: str
    edition: str
    address: str
    confidence: str
    confirm: str = "confirm before relying on it"


@dataclass(frozen=True)
class When:
    """A condition: every named fact must be one of its values. Empty holds always."""

    facts: tuple[tuple[str, tuple[str | bool, ...]], ...] = ()


@dataclass(frozen=True)
class Row:
    """One ground: what excludes (in `excludes`), or what may not be a ground (in `not_denied_for`).

    `unsaid`: what the term bound by it leaves unsaid (each a fact and the term's id), so that it may not bind.
    """

    ground: str
    when: When
    source: str
    note: str = ""
    unsaid: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Machines:
    """Which machines the term speaks of; an empty list or None asks nothing. `label_of` is the assembly whose label counts."""

    makers: tuple[str, ...] = ()
    models: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    regions: tuple[str, ...] = ()
    powers: tuple[str, ...] = ()
    hand_held: bool | None = None
    displacement_from: Decimal | None = None
    displacement_below: Decimal | None = None
    built_from: date | None = None
    built_to: date | None = None
    sold_from: date | None = None
    sold_to: date | None = None
    label_of: str = "engine"
    part_1054: bool | None = None
    evaporative: bool | None = None


@dataclass(frozen=True)
class Start:
    """The day the period runs from, per kind of sale; without proof, N days after the build or the first service."""

    base: str = "sale"
    floor_stock: str = "sale"
    demonstrator: str = "first_service"
    ex_rental: str = "first_service"
    build_plus_days: int = 0
    no_proof: str | None = None  # 'build' or 'first_service'
    no_proof_plus_days: int = 0
    repair_by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Period:
    """How long: months or days from the start, or for ever; cut at `ends_on`."""

    months: int | None = None
    days: int | None = None
    unlimited: bool = False
    anniversary_inside: bool = True
    ends_on: date | None = None


@dataclass(frozen=True)
class Hours:
    """An hours limit, or a percentage of the useful life printed on the label."""

    limit: Decimal | None = None
    percent_of_label: Decimal | None = None
    without_meter: str = "years_only"  # or 'fails'
    may_be_invoked: bool = False  # the giver may, but need not, rely on it


@dataclass(frozen=True)
class Severe:
    """The shorter figures for severe service, in the uses named or wherever the work is said to be severe; None: as else."""

    uses: tuple[str, ...] = ()
    period: Period | None = None
    hours: Hours | None = None


@dataclass(frozen=True)
class Pays:
    """What the giver pays. `consequent`: none; listed (damage to the term's own components); machine (any part)."""

    parts: bool = True
    labour: bool = True
    diagnosis: bool = False
    freight: bool = False
    pick_up: bool = False
    consequent: str = "listed"
    labour_percent: Decimal | None = None
    parts_percent: Decimal | None = None

    @property
    def kinds(self) -> int:
        """How many kinds of cost are paid."""
        plain = (self.parts, self.labour, self.diagnosis, self.freight, self.pick_up)
        return sum(plain) + ("none", "listed", "some", "machine").index(self.consequent)


@dataclass(frozen=True, eq=False, repr=False)
class Term:
    """One term or protection; `data` is its record as canonical JSON, from which it can be read again.

    `kind` 'cover' promises; 'protection' only forbids grounds to the terms that it binds (`binds_givers`,
    `binds_consumer`, `binds_full`). Equality and hash go by `fingerprint`.
    """

    data: str
    id: str
    version: int
    kind: str
    title: str
    source: Source
    giver: str = "statute"
    giver_name: str | None = None
    duty_on: str | None = None
    free: bool = True
    consumer_product: bool | None = None
    full: bool | None = None
    machines: Machines = field(default_factory=Machines)
    assemblies: tuple[str, ...] = ()
    components: frozenset[str] = frozenset()
    consequent_codes: frozenset[str] = frozenset()
    to: str = "any_owner"
    use_classes: tuple[str, ...] = ()
    start: Start = field(default_factory=Start)
    period: Period = field(default_factory=Period)
    hours: Hours | None = None
    severe: Severe | None = None
    no_shorter_than: tuple[str, ...] = ()
    replacement: str = "remainder"
    may_be_scheduled: frozenset[str] = frozenset()
    proof: tuple[str, ...] = ()
    register_within_days: int | None = None
    records: bool = False
    plan: str | None = None
    campaign: str | None = None
    causes: tuple[str, ...] = ("defect",)
    causes_when: tuple[tuple[str, When], ...] = ()
    excludes: tuple[Row, ...] = ()
    not_denied_for: tuple[Row, ...] = ()
    pays: Pays = field(default_factory=Pays)
    far_owner_miles: Decimal | None = None
    far_owner_source: str = ""
    far_owner_not_in: frozenset[str] = frozenset()
    binds_givers: tuple[str, ...] = ()
    binds_consumer: bool = False
    binds_full: bool = False
    sources: tuple[tuple[str, str], ...] = ()

    @cached_property
    def in_severe_service(self) -> Term:
        """The term as it counts in severe service."""
        severe = self.severe or Severe()
        return replace(self, period=severe.period or self.period, hours=severe.hours or self.hours, severe=None)

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 of the record: two terms with the same fingerprint say the same."""
        return hashlib.sha256(self.data.encode()).hexdigest()

    @cached_property
    def _hash(self) -> int:
        return hash(self.fingerprint)

    def __repr__(self) -> str:
        return f"Term({self.id!r}, version={self.version})"

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, Term) and self.fingerprint == other.fingerprint)

    @cached_property
    def reach(self) -> frozenset[str] | None:
        """Components whose damage is paid when a covered failure caused it; None stands for any."""
        if self.pays.consequent == "machine":
            return None
        return frozenset() if self.pays.consequent == "none" else self.components | self.consequent_codes

    @cached_property
    def citations(self) -> dict[str, str]:
        """Citation per rule; a rule without one of its own has the term's."""
        return dict(self.sources)

    def cite(self, rule: str) -> str:
        """The citation for one of the term's rules."""
        return self.citations.get(rule, self.source.cite)


def term_to_dict(term: Term) -> dict[str, object]:
    """The record of a term, as `term_from_dict` takes it."""
    record: dict[str, object] = json.loads(term.data)
    return record
