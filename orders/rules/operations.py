"""The starting catalogue of labour operations: a guide in the labour rules' own shape, and what each is for. Pure.

Every time in it is common practice, no source: the shop confirms it or puts its own in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from orders.rules import strict, trade
from orders.rules.labour_guide import Guide, Operation, WorkStep, guide
from orders.rules.strict import DataError, Node
from orders.rules.work import ACTIONS
from shopdocs.problems import BadInput


@dataclass(frozen=True)
class CatalogueOperation:
    """A labour operation, the machines it is for and the components it is done on. `source` goes on the paper.

    `action` says what is done to them, in the words of `orders.rules.work`; '' where the operation looks or tests.
    """

    operation: Operation
    families: tuple[str, ...]
    powers: tuple[str, ...]
    components: tuple[str, ...]
    source: str
    action: str = ""

    @property
    def key(self) -> str:
        return self.operation.key

    @property
    def words(self) -> str:
        return self.operation.words

    def fits(self, family: str, power_source: str) -> bool:
        """Whether a unit of this family and power source can need it; an 'unknown' power source needs only the family."""
        return family in self.families and (power_source == trade.NOT_KNOWN or power_source in self.powers)


@dataclass(frozen=True)
class Catalogue:
    """All operations and the guide that times them."""

    guide: Guide
    operations: Mapping[str, CatalogueOperation]


@cache
def catalogue() -> Catalogue:
    """The shipped catalogue, read on first use and kept."""
    return load_catalogue()


def operations_for(family: str, power_source: str, component: str | None = None) -> tuple[CatalogueOperation, ...]:
    """The operations for a unit, those on one component if it is given, in the order of the catalogue.

    Raises trade.UnknownCode for an unknown code or a family that is never driven so.
    """
    trade.powers_of(family, power_source)
    if component is not None:
        trade.component(component)
    return tuple(
        item
        for item in catalogue().operations.values()
        if item.fits(family, power_source) and (component is None or component in item.components)
    )


def load_catalogue(path: Path = trade.DATA / "operations.yaml") -> Catalogue:
    """Reads the file; raises DataError (file:line: problem) for a wrong row, DataError with the file for a loop."""
    root = strict.read(path)
    row = root.fields(["source", "steps", "operations"])
    source = row["source"].text()
    for listed, what in ((row["steps"], "step"), (row["operations"], "operation")):
        _refuse_doubles(listed, what)
    steps = [_step(item) for item in row["steps"].items()]
    known_steps = {step.key for step in steps}
    found = [_operation(item, source, known_steps) for item in row["operations"].items()]
    try:
        checked = guide(steps, (item.operation for item in found))
    except BadInput as error:
        raise DataError(path.name, str(error)) from None
    return Catalogue(checked, {item.key: item for item in found})


def _refuse_doubles(listed: Node, what: str) -> None:
    places: dict[str, str] = {}
    for item in listed.items():
        entries = item.entries()
        key = entries["key"].text() if "key" in entries else ""
        if key in places:
            raise item.refuse(f"the {what} '{key}' stands already at {places[key]}")
        places[key] = item.where


def _step(item: Node) -> WorkStep:
    row = item.fields(["key", "words", "minutes"], ["needs", "undoes", "repeats"])
    return WorkStep(
        row["key"].text(),
        row["words"].text(),
        row["minutes"].number(),
        row["needs"].texts() if "needs" in row else (),
        row["undoes"].texts() if "undoes" in row else (),
        row["repeats"].flag() if "repeats" in row else False,
    )


def _operation(item: Node, source: str, known_steps: set[str]) -> CatalogueOperation:
    known = trade.trade()
    row = item.fields(["key", "words", "families", "powers", "components", "steps"], ["action"])
    families = trade.expand(row["families"], known.families, known.groups, "family")
    components = row["components"].some_of(known.components, "component")
    for code in components:
        if not set(families) & set(known.components[code].families):
            raise row["components"].refuse(f"none of these families has a {known.components[code].name}")
    return CatalogueOperation(
        Operation(row["key"].text(), row["words"].text(), row["steps"].some_of(known_steps, "step")),
        families,
        trade.expand(row["powers"], known.powers, known.power_groups, "power source"),
        components,
        source,
        row["action"].one_of(ACTIONS, "action") if "action" in row else "",
    )
