"""The answer for one finding on one day, with every step; its JSON is what a shop freezes and serves byte for byte.

A decision is advice: it rules nothing, and says so.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from warranty.coverage.case import Step
from warranty.coverage.record import FORMAT, Change, Forbidden, Goodwill, Record, Route, Settling, TermTried
from warranty.coverage.rulebook import Tried


class Decision:
    """One finding's answer. `answer`: 'covered', 'not_covered', 'cannot_say_yet' or 'no_fault'.

    `by`: ids of the terms that hold. `by_one_of`: the answer is covered whatever the missing facts are, but by which
    of these terms depends on them. Everything else is worked out when first asked for and then kept.
    """

    __slots__ = ("_make", "_record", "answer", "by", "by_one_of", "finding", "trace")

    def __init__(
        self, finding: str, answer: str, by: tuple[str, ...], by_one_of: tuple[str, ...], trace: tuple[Tried, ...],
        make: Callable[[Decision], Record],
    ) -> None:  # fmt: skip
        self.finding = finding
        self.answer = answer
        self.by = by
        self.by_one_of = by_one_of
        self.trace = trace
        self._make = make
        self._record: Record | None = None

    @property
    def record(self) -> Record:
        """The decision in full."""
        if self._record is None:
            self._record = self._make(self)
        return self._record

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Decision) and to_json(self) == to_json(other)

    def __hash__(self) -> int:
        return hash((self.finding, self.answer, self.by))

    def __repr__(self) -> str:
        return f"Decision({self.finding!r}, {self.answer!r}, by={self.by!r})"

    @property
    def as_of(self) -> str:
        """The day asked for."""
        return self.record.as_of

    @property
    def judged_on(self) -> str | None:
        """The day the finding was made, by which cover is judged; None while it is not known."""
        return self.record.judged_on

    @property
    def best_for_customer(self) -> str | None:
        """The term that pays most kinds of cost, then runs longest."""
        return self.record.best_for_customer

    @property
    def best_paid(self) -> str | None:
        """The term that pays this shop best by its own record, else the one that pays most kinds of cost."""
        return self.record.best_paid

    @property
    def payer(self) -> str:
        """Who should pay: 'warranty', 'shop', 'customer', 'open' (not known yet) or 'nobody' (no fault)."""
        return self.record.payer

    @property
    def could_pay(self) -> tuple[str, ...]:
        """Who else could: 'warranty', 'shop', 'goodwill', 'customer'."""
        return self.record.could_pay

    @property
    def tried(self) -> tuple[TermTried, ...]:
        """Every term tried, with its steps, by term id."""
        return self.record.tried

    @property
    def missing_proof(self) -> tuple[str, ...]:
        """Facts whose proof is still missing."""
        return self.record.missing_proof

    @property
    def settling(self) -> tuple[Settling, ...]:
        """Facts that would settle it, cheapest first."""
        return self.record.settling

    @property
    def changes(self) -> tuple[Change, ...]:
        """What would change a settled answer."""
        return self.record.changes

    @property
    def goodwill(self) -> tuple[Goodwill, ...]:
        """Talking points where a term fails narrowly."""
        return self.record.goodwill

    @property
    def route(self) -> Route:
        """May this shop do the work under the best term."""
        return self.record.route

    @property
    def forbidden(self) -> tuple[Forbidden, ...]:
        """Grounds that may not be given, per term."""
        return self.record.forbidden

    @property
    def refused(self) -> str:
        """Why nothing could be judged (a cycle of causes, a finding after the day asked), else empty."""
        return self.record.refused

    @property
    def warnings(self) -> tuple[str, ...]:
        """Contradictions among the facts."""
        return self.record.warnings

    @property
    def known_defects(self) -> tuple[object, ...]:
        """Known defects that fit or may fit, as plain records."""
        return self.record.known_defects

    @property
    def advice(self) -> str:
        """Always 'advice_only': the answer rules nothing."""
        return self.record.advice


_ROWS: dict[str, type[Step] | type[TermTried] | type[Settling] | type[Change] | type[Goodwill] | type[Forbidden]] = {
    "tried": TermTried, "settling": Settling, "changes": Change, "goodwill": Goodwill, "forbidden": Forbidden,
}  # fmt: skip


def _plain(value: object) -> object:
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {key: _plain(item) for key, item in value._asdict().items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, frozenset):
        return sorted(str(item) for item in value)
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return value


def to_json(decision: Decision) -> str:
    """Canonical JSON: sorted keys, no spaces. The same decision always gives the same bytes."""
    record = {key: _plain(getattr(decision.record, key)) for key in Record.__dataclass_fields__}
    if not decision.record.known_defects_left_out:
        del record["known_defects_left_out"]
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _frozen(value: object) -> object:
    if isinstance(value, list):
        return tuple(_frozen(item) for item in value)
    return value


def from_json(text: str) -> Decision:
    """The decision as frozen; `to_json` of it gives the same bytes. Raises ValueError for another format."""
    record = json.loads(text)
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise ValueError("this is not a frozen decision of a format that is known here")
    out: dict[str, object] = {}
    for key, value in record.items():
        if key in _ROWS:
            out[key] = tuple(_row(_ROWS[key], row) for row in value)
        elif key == "route":
            out[key] = Route(**value)
        else:
            out[key] = _frozen(value)
    whole = Record(**out)  # type: ignore[arg-type]
    return Decision(whole.finding, whole.answer, whole.by, whole.by_one_of, (), lambda _: whole)


def _row(kind: type, row: dict[str, object]) -> object:
    fields = {key: _frozen(value) for key, value in row.items()}
    if kind is TermTried:
        steps: Any = row["steps"]
        fields["steps"] = tuple(_row(Step, step) for step in steps)
    return kind(**fields)
