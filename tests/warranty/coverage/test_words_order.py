"""The explanation begins with what a person wants to know, and spends one line on terms that do not concern the machine."""

from datetime import date

from warranty.coverage.decide import decide
from warranty.coverage.facts import AssemblyFacts, FindingFacts, UnitFacts
from warranty.coverage.terms import load_terms
from warranty.coverage.words import words

ENGINE = AssemblyFacts(role="engine", label_read=True, part_1054=True)
UNIT = UnitFacts(
    power="two_stroke",
    region="US-OH",
    sold_on=date(2025, 3, 1),
    sale_kind="new",
    hour_meter=False,
    assemblies=(ENGINE,),
)
FINDING = FindingFacts(
    id="f", component="ignition_module", condition="dead", cause="defect", caused_by="none", found_on=date(2026, 3, 1)
)


def test_what_holds_comes_before_what_does_not_help() -> None:
    told = words(decide(UNIT, (FINDING,), load_terms(), date(2026, 3, 1))["f"])
    assert told[0].startswith("Covered, by Federal emission warranty, exhaust side")
    assert told[-1].startswith("This is advice")
    pays = next(at for at, line in enumerate(told) if line.startswith("The warranty should pay"))
    holds = next(at for at, line in enumerate(told) if line.endswith(" holds."))
    other = [at for at, line in enumerate(told) if "does not help" in line]
    assert pays < holds < min(other)
    california = next(line for line in told if line.startswith("California"))
    assert "does not help. No: the term does not speak of this machine" in california
    assert told.count(told[holds + 2]) == 1, "no step is told twice"
