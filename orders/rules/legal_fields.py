"""What a consumer law wants on a shop's papers: dated data beside the laws themselves, each with its source. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from orders.rules import strict
from orders.rules.authorisation import Asked, EstimateLaw, all_laws, estimate_owed
from orders.rules.trade import DATA

ANSWERS = (
    "issued_on",
    "estimate_on",
    "finished_on",
    "shop",
    "dealer",
    "customer",
    "total",
    "promised_on",
    "received_on",
    "choice",
    "request",
    "parts",
    "conditions",
    "not_new",
    "no_charge",
    "storage",
    "labour",
    "hours",
    "tax",
    "delivery",
    "other",
    "estimate_charge",
    "service_call",
    "on_top",
    "unit",
    "jobs",
    "authorised",
    "signature",
)
"""The facts of a paper that can answer a field."""

WARRANTY, CUSTOMER = "warranty", "customer"
PAPERS = ("estimate", "repair_order", "invoice", "repair_summary")
PLACES = ("head", "machine", "request", "jobs", "totals")
"""Where a paper says something whether or not a law wants it: it is not said a second time."""


@dataclass(frozen=True, slots=True)
class WantedField:
    """One thing that has to be said, and which fact says it. `drawn`: where the paper says it anyway; '': nowhere else.

    `bold`: the law wants it in bold type, or to be conspicuous.
    """

    name: str
    answer: str
    drawn: str = ""
    bold: bool = False


@dataclass(frozen=True, slots=True)
class WantedPaper:
    """What one law (by its key) wants, and on which papers.

    `own_terms`: the paper is wanted whatever was asked and estimated, for work above `above` (None: for any), and of any
    value where a warranty pays and `warranty` is set; `warranty_alone`: where nobody else pays; `unbilled`: where the customer
    pays nothing, so that there is no invoice. Without them it is wanted when the law wants an estimate.
    """

    law: str
    source: str
    address: str
    edition: str
    confidence: str
    papers: frozenset[str]
    fields: tuple[WantedField, ...]
    own_terms: bool = False
    above: Decimal | None = None
    warranty: bool = False
    warranty_alone: bool = False
    unbilled: bool = False

    def speaks_of(self, law: EstimateLaw, price: Decimal | None, *, asked: Asked, payers: frozenset[str]) -> bool:
        """Whether it is wanted for work of this price (None: not known yet), as the customer asked for an estimate."""
        if self.warranty_alone:
            return payers == {WARRANTY}
        if self.unbilled:
            return bool(payers) and CUSTOMER not in payers
        if self.own_terms:
            within = price is None or self.above is None or price > self.above
            return within or (self.warranty and WARRANTY in payers)
        if law.chosen:  # the paper itself asks what the customer wants
            return price is None or law.speaks_of(price)
        owed = estimate_owed(law, price, asked=asked)
        return owed.owed or owed.ask


_KEYS = ("law", "source", "address", "edition", "confidence", "stands_on", "fields")


def parse_papers(root: strict.Node, laws: frozenset[str]) -> tuple[WantedPaper, ...]:
    """The wanted papers; DataError names file and line of an unknown law, a paper that is wanted twice, an unknown answer."""
    papers: list[WantedPaper] = []
    for row in root.fields(("papers",))["papers"].items():
        parts = row.fields(_KEYS, ("own_terms",))
        law = parts["law"].one_of(sorted(laws), "law")
        on = frozenset(parts["stands_on"].some_of(PAPERS, "paper"))
        twice = sorted(kind for one in papers if one.law == law for kind in one.papers & on)
        if twice:
            raise row.refuse(f"what the law '{law}' wants on the {twice[0]} stands here twice")
        own = (
            parts["own_terms"].fields((), ("above", "warranty", "warranty_alone", "unbilled"))
            if "own_terms" in parts
            else {}
        )
        words = {name: parts[name].text() for name in ("source", "address", "edition", "confidence")}
        papers.append(
            WantedPaper(
                law=law,
                papers=on,
                fields=tuple(_field(one) for one in parts["fields"].items()),
                own_terms="own_terms" in parts,
                above=own["above"].number() if "above" in own else None,
                warranty="warranty" in own and own["warranty"].flag(),
                warranty_alone="warranty_alone" in own and own["warranty_alone"].flag(),
                unbilled="unbilled" in own and own["unbilled"].flag(),
                **words,
            )
        )
    return tuple(papers)


def _field(row: strict.Node) -> WantedField:
    parts = row.fields(("name", "from"), ("drawn", "bold"))
    return WantedField(
        parts["name"].text(),
        parts["from"].one_of(ANSWERS, "answer"),
        parts["drawn"].one_of(PLACES, "place") if "drawn" in parts else "",
        "bold" in parts and parts["bold"].flag(),
    )


@cache
def all_papers() -> tuple[WantedPaper, ...]:
    """Every paper of the house's data that a law wants something on."""
    laws = frozenset(law.key for law in all_laws())
    return parse_papers(strict.read(DATA / "estimate_papers.yaml"), laws)


def wanted_by(law: str, paper: str) -> WantedPaper | None:
    """What the law of this key wants on this kind of paper; None when nothing was seen."""
    return next((one for one in all_papers() if one.law == law and paper in one.papers), None)
