"""A plain unit and finding to vary in tests: every fact known, nothing remarkable."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision
from warranty.coverage.facts import AssemblyFacts, FindingFacts, UnitFacts
from warranty.coverage.terms import Term, load_terms

ENGINE = AssemblyFacts(
    "engine", maker="Ostervane", label_read=True, part_1054=True, emission_family="RTESTS.190AA",
    useful_life_hours=Decimal(250), displacement_cc=Decimal(190),
)  # fmt: skip
UNIT = UnitFacts(
    ref="u1", maker="Fernhollow", model="FW-53", family="mower", serial="F24-118820", build_date=date(2023, 1, 15),
    sold_on=date(2024, 5, 3), purchase_proof="receipt", delivered_on=date(2024, 5, 3), registered=True,
    registered_on=date(2024, 5, 5), first_service_on=date(2024, 5, 4), sale_kind="new", use_class="residential",
    region="US-OH", power="four_stroke", hand_held=False, evaporative=True, hour_meter=True, hours=Decimal(90),
    meter_changes=(), hours_limit_invoked=None, owner="first", transfer_registered=False, assemblies=(ENGINE,),
    modified=False, serviced_by="owner", other_parts=False, maintenance_records=True, fuel="e10",
    manual_forbids_fuel=False, proper_fuel_at_hand=True, emergency_repair=False, replacement_schedule={}, repairs=(),
    plans=frozenset(), campaigns_done=frozenset(),
)  # fmt: skip
FINDING = FindingFacts(
    "f1",
    "carburettor",
    assembly="engine",
    condition="leaks",
    cause="defect",
    caused_by="none",
    found_on=date(2025, 6, 1),
)
LAW = load_terms()
FEDERAL = tuple(term for term in LAW if term.id.startswith("us-emission"))
CALIFORNIA = tuple(term for term in LAW if term.id == "us-ca-emission")
ONE_DAY = timedelta(days=1)


def unit(**known: Any) -> UnitFacts:
    """The plain unit with some facts otherwise; `engine` gives fields of its engine."""
    engine = known.pop("engine", {})
    known.setdefault("assemblies", (replace(ENGINE, **engine),))
    return replace(UNIT, **known)


def finding(**known: Any) -> FindingFacts:
    """The plain finding with some facts otherwise."""
    return replace(FINDING, **known)


def decided(
    one: UnitFacts, found: FindingFacts | None = None, terms: tuple[Term, ...] = LAW, as_of: date | None = None
) -> Decision:
    """The decision for one finding, on the day it was found unless another is asked for."""
    found = found or FINDING
    return decide(one, [found], terms, as_of or found.found_on or date(2026, 1, 1))[found.id]


def on(day: date, **known: Any) -> FindingFacts:
    """The plain finding on a given day."""
    return finding(found_on=day, **known)
