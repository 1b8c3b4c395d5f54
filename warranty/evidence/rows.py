"""The rows of the evidence table, and how they are read from the files and checked. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from orders.rules import points, strict, trade
from orders.rules.strict import Node

FOLDER = Path(__file__).parent
PRACTICE = "common practice, no source"
CONFIDENCES = ("read", "second-hand", "from memory", "computed")
AGAIN = "="
_REQUIRED = (
    "code", "families", "component", "conditions", "points_to", "apart_from", "for", "against", "prove", "settled",
    "precautions", "source",
)  # fmt: skip


@dataclass(frozen=True)
class Sign:
    """Something a technician can see, hear, smell or measure. The code is what a finding records."""

    code: str
    words: str


@dataclass(frozen=True)
class EvidenceRow:
    """One explanation of a component's condition.

    `signs_for` speak for `points_to`, `signs_against` rule it out; `apart_from` are the causes it is told apart from.
    `follows_from` are (component, condition) pairs that commonly come first: the root to look for.
    """

    code: str
    families: tuple[str, ...]
    component: str
    conditions: tuple[str, ...]
    points_to: str
    apart_from: tuple[str, ...]
    signs_for: tuple[Sign, ...]
    signs_against: tuple[Sign, ...]
    prove: str
    settled: str
    precautions: tuple[points.Precaution, ...]
    care: str
    follows_from: tuple[tuple[str, str], ...]
    source: str

    def precaution(self, power_source: str) -> str:
        """What to make safe before the check, for a unit with this power source."""
        power = trade.power_source(power_source)
        words = [text for item in self.precautions if (text := item.for_power(power))]
        return " ".join([*words, self.care] if self.care else words)


@dataclass(frozen=True)
class Table:
    """All rows and signs of a folder, checked."""

    rows: tuple[EvidenceRow, ...]
    signs: Mapping[str, Sign]

    def find(self, component: str, condition: str, family: str) -> tuple[EvidenceRow, ...]:
        """The rows about a component in a condition on a family; every code must exist (trade.UnknownCode)."""
        part, state, kind = trade.component(component), trade.condition(condition), trade.family(family)
        return tuple(
            row
            for row in self.rows
            if row.component == part.code and state.code in row.conditions and kind.code in row.families
        )


def load(folder: Path = FOLDER) -> Table:
    """Reads every .yaml file of the folder in name order; raises DataError (file:line: problem)."""
    places = [
        item for path in sorted(folder.glob("*.yaml")) for item in strict.read(path).fields(["rows"])["rows"].items()
    ]
    signs = _all_signs(places)
    precautions = points.precautions()
    rows: dict[str, EvidenceRow] = {}
    for item in places:
        row = _row(item, signs, precautions)
        if row.code in rows:
            raise item.refuse(f"the row '{row.code}' stands in the table twice")
        rows[row.code] = row
    return Table(tuple(rows.values()), signs)


def _all_signs(places: Iterable[Node]) -> dict[str, Sign]:
    """Every sign with its words. A sign is written out once; elsewhere '=' stands for its words."""
    found: dict[str, Sign] = {}
    where: dict[str, str] = {}
    for item in places:
        entries = item.entries()
        for side in ("for", "against"):
            for code, node in entries[side].entries().items() if side in entries else ():
                words = node.text()
                if words == AGAIN:
                    continue
                if code in found:
                    raise node.refuse(f"the sign '{code}' has its words already at {where[code]}; write '=' here")
                if not trade.CODE.fullmatch(code):
                    raise node.refuse(f"the sign code '{code}' must be lower case letters, digits and underscores")
                found[code], where[code] = Sign(code, words), node.where
    return found


def _signs(node: Node, signs: Mapping[str, Sign]) -> tuple[Sign, ...]:
    entries = node.entries()
    if not entries:
        raise node.refuse("at least one sign is needed")
    for code, value in entries.items():
        if code not in signs:
            raise value.refuse(strict.no_such("sign with words", code, signs))
    return tuple(signs[code] for code in entries)


def _row(item: Node, signs: Mapping[str, Sign], precautions: Mapping[str, points.Precaution]) -> EvidenceRow:
    known = trade.trade()
    row = item.fields(_REQUIRED, ["care", "follows_from"])
    component = known.components[row["component"].one_of(known.components, "component")]
    families = trade.expand(row["families"], known.families, known.groups, "family")
    if strays := [code for code in families if code not in component.families]:
        raise row["families"].refuse(f"a {strays[0]} has no {component.name}")
    points_to = row["points_to"].one_of(known.causes, "cause")
    apart_from = _some(row["apart_from"], known.causes, "cause")
    if points_to in apart_from:
        raise row["apart_from"].refuse(f"'{points_to}' is the cause it points to and cannot be told apart from itself")
    signs_for, signs_against = _signs(row["for"], signs), _signs(row["against"], signs)
    if both := {sign.code for sign in signs_for} & {sign.code for sign in signs_against}:
        raise row["against"].refuse(f"the sign '{min(both)}' speaks for the cause and rules it out")
    named = _some(row["precautions"], precautions, "precaution")
    return EvidenceRow(
        row["code"].text(),
        families,
        component.code,
        _some(row["conditions"], known.conditions, "condition"),
        points_to,
        apart_from,
        signs_for,
        signs_against,
        row["prove"].text(),
        row["settled"].text(),
        tuple(precautions[code] for code in named),
        row["care"].text() if "care" in row else "",
        tuple(_pair(node) for node in row["follows_from"].items()) if "follows_from" in row else (),
        _source(row["source"]),
    )


def _some(node: Node, choices: Collection[str], what: str) -> tuple[str, ...]:
    listed = node.some_of(choices, what)
    if not listed:
        raise node.refuse(f"at least one {what} is needed")
    return listed


def _pair(node: Node) -> tuple[str, str]:
    """'component condition', both known."""
    known = trade.trade()
    words = node.text().split()
    if len(words) != 2:
        raise node.refuse("write a component and a condition, as 'exhaust_deflector missing'")
    for word, choices, what in ((words[0], known.components, "component"), (words[1], known.conditions, "condition")):
        if word not in choices:
            raise node.refuse(strict.no_such(what, word, choices))
    return words[0], words[1]


def _source(node: Node) -> str:
    words = node.text()
    if words != PRACTICE and not any(f"{confidence})" in words for confidence in CONFIDENCES):
        raise node.refuse(
            f"write '{PRACTICE}', or a citation that ends in its edition and how it is known, as '(2021, read)'"
        )
    return words
