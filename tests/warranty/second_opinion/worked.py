"""The worked cases (tests/warranty/cases), read without any code that the engine's own tests use."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import yaml

from warranty.coverage.facts import AssemblyFacts, FindingFacts, MeterChange, RepairFacts, UnitFacts
from warranty.coverage.shapes import Term
from warranty.coverage.terms import load_terms, term_from_dict
from warranty.coverage.vocabulary import NO_LINK

CASES = Path(__file__).parent.parent / "cases"


@dataclass(frozen=True)
class Worked:
    """One case and what its teller expects: per finding the answer, and the terms that hold where they are told."""

    name: str
    unit: UnitFacts
    findings: tuple[FindingFacts, ...]
    terms: tuple[Term, ...]
    as_of: date
    expect: Mapping[str, Mapping[str, Any]]


def programme(name: str = "programme") -> tuple[Term, ...]:
    """An invented maker's whole programme."""
    records = yaml.safe_load((CASES / "terms" / f"{name}.yaml").read_text("utf-8"))["terms"]
    return tuple(term_from_dict(_plain(record)) for record in records)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return value.isoformat() if isinstance(value, date) else value


def worked_cases() -> Iterator[Worked]:
    """Every case of every file."""
    sets = {"law": tuple(load_terms())}
    for path in sorted(CASES.glob("*.yaml")):
        text = yaml.safe_load(path.read_text("utf-8"))
        for case in text["cases"]:
            facts = {**text["units"][case["unit"].get("like", "")], **case["unit"]}
            names = case.get("terms", ["law", "programme"])
            terms = tuple(term for name in names for term in sets.setdefault(name, sets.get(name) or programme(name)))
            findings = tuple(
                FindingFacts(id=key, **{"caused_by": NO_LINK, **one}) for key, one in case["findings"].items()
            )
            yield Worked(case["name"], unit_of(facts), findings, terms, case["as_of"], case["expect"])


def unit_of(facts: Mapping[str, Any]) -> UnitFacts:
    """A unit as the case files write it."""
    told = {key: value for key, value in facts.items() if key not in ("like", "engine")}
    for key in ("hours", "miles_to_centre"):
        if told.get(key) is not None:
            told[key] = Decimal(str(told[key]))
    if told.get("meter_changes") is not None:
        told["meter_changes"] = tuple(
            MeterChange(one["day"], Decimal(one["removed_at"]), Decimal(one.get("fitted_at", 0)))
            for one in told["meter_changes"]
        )
    if told.get("repairs") is not None:
        told["repairs"] = tuple(
            RepairFacts(**{**one, "components": tuple(one["components"])}) for one in told["repairs"]
        )
    for key in ("plans", "campaigns_done"):
        if told.get(key) is not None:
            told[key] = frozenset(told[key])
    if told.get("replacement_schedule") is not None:
        told["replacement_schedule"] = {
            part: (months, None if hours is None else Decimal(hours))
            for part, (months, hours) in told["replacement_schedule"].items()
        }
    if facts.get("engine"):
        label = {
            key: Decimal(str(value)) if key in ("useful_life_hours", "displacement_cc") and value is not None else value
            for key, value in facts["engine"].items()
        }
        told["assemblies"] = (AssemblyFacts(role="engine", **label),)
    return UnitFacts(**told)
