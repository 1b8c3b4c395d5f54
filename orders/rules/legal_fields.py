"""What a consumer law wants on an estimate's paper: dated data beside the laws themselves, each with its source. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from orders.rules import strict
from orders.rules.authorisation import all_laws
from orders.rules.trade import DATA

ANSWERS = (
    "issued_on",
    "shop",
    "customer",
    "total",
    "promised_on",
    "received_on",
    "choice",
    "request",
    "parts",
    "storage",
    "labour",
    "tax",
    "unit",
    "jobs",
    "signatures",
)
"""The facts of an estimate that can answer a field."""

PAPERS = ("estimate", "repair_order")


@dataclass(frozen=True, slots=True)
class WantedField:
    """One thing that has to be said, and which fact says it."""

    name: str
    answer: str


@dataclass(frozen=True, slots=True)
class WantedPaper:
    """What one law (by its key) wants, and on which papers: 'estimate', 'repair_order'."""

    law: str
    source: str
    confidence: str
    papers: frozenset[str]
    fields: tuple[WantedField, ...]


def parse_papers(root: strict.Node, laws: frozenset[str]) -> dict[str, WantedPaper]:
    """The wanted fields by law; DataError names file and line of an unknown law, a doubled one, an unknown answer."""
    papers: dict[str, WantedPaper] = {}
    for row in root.fields(("papers",))["papers"].items():
        parts = row.fields(("law", "source", "confidence", "stands_on", "fields"))
        law = parts["law"].one_of(sorted(laws), "law")
        if law in papers:
            raise row.refuse(f"the law '{law}' stands here twice")
        listed = tuple(_field(one) for one in parts["fields"].items())
        on = frozenset(parts["stands_on"].some_of(PAPERS, "paper"))
        papers[law] = WantedPaper(law, parts["source"].text(), parts["confidence"].text(), on, listed)
    return papers


def _field(row: strict.Node) -> WantedField:
    parts = row.fields(("name", "from"))
    return WantedField(parts["name"].text(), parts["from"].one_of(ANSWERS, "answer"))


@cache
def _papers() -> dict[str, WantedPaper]:
    laws = frozenset(law.key for law in all_laws())
    return parse_papers(strict.read(DATA / "estimate_papers.yaml"), laws)


def wanted_by(law: str) -> WantedPaper | None:
    """What the law of this key wants on the paper; None when nothing was seen."""
    return _papers().get(law)
