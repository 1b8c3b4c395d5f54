"""Random terms, units and findings for the property tests; every fact known unless a test hides it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from tests.warranty.coverage.kit import ENGINE, UNIT
from warranty.coverage import vocabulary as v
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.settle import with_fact
from warranty.coverage.terms import Term, term_from_dict

DAY = date(2025, 6, 1)
BUILT = DAY - timedelta(days=30)
PARTS = ("carburettor", "ignition_module", "blade", "piston")
SOURCE = {"cite": "a leaflet", "edition": "2025", "address": "shop file", "confidence": "invented"}


def some(values: tuple[str, ...]) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(values), min_size=1, max_size=len(values) - 1, unique=True)


@st.composite
def whens(draw: st.DrawFn) -> dict[str, Any]:
    """A condition on one or two facts."""
    options: dict[str, st.SearchStrategy[Any]] = {
        "cause": some(v.CAUSES[:9]), "serviced_by": some(v.SERVICED_BY), "modified": st.booleans(), "owner": some(v.OWNERS),
        "done_by": some(v.DONE_BY), "use_class": some(v.USE_CLASSES), "other_parts": st.booleans(),
    }  # fmt: skip
    keys = draw(st.lists(st.sampled_from(sorted(options)), min_size=1, max_size=2, unique=True))
    return {key: draw(options[key]) for key in keys}


@st.composite
def terms(draw: st.DrawFn, name: str = "term") -> Term:
    """One term with a random choice of everything it may ask."""
    record: dict[str, Any] = {
        "id": name, "version": 1, "title": name, "giver": draw(st.sampled_from(["statute", "plan", "campaign"])), "source": SOURCE,
        "components": {"codes": draw(some(PARTS))}, "period": {"days": draw(st.integers(1, 60))},
        "consumer_product": draw(st.booleans()), "full": draw(st.booleans()),
        "to": draw(st.sampled_from(["any_owner", "any_owner", "first_owner", "registered_owner", "transferred_owner"])),
        "start": {"from": draw(st.sampled_from(["sale", "delivery", "build", "first_service"])),
                  "build_plus_days": 0},
        "causes": draw(some(v.CAUSES[:9])),
        "pays": {"parts": True, "labour": True, "consequent": draw(st.sampled_from(["none", "listed", "machine"]))},
    }  # fmt: skip
    if draw(st.booleans()):
        record["use_classes"] = draw(some(v.USE_CLASSES))
    if draw(st.booleans()):
        record["hours"] = {"limit": draw(st.sampled_from([50, 100])), "without_meter": draw(st.sampled_from(["years_only", "fails"])),
                           "may_be_invoked": draw(st.booleans())}  # fmt: skip
    if draw(st.integers(0, 2)) == 0:
        figures = [{"period": {"days": 1}}, {"hours": {"limit": 20, "without_meter": "years_only"}}]
        record["severe_service"] = draw(
            st.sampled_from([*figures, figures[0] | figures[1], figures[0] | {"uses": ["rental"]}])
        )
    if draw(st.booleans()):
        record["start"]["no_proof"] = {"from": "build", "plus_days": draw(st.integers(0, 20))}
    if draw(st.integers(0, 3)) == 0:
        record["requires"] = {
            "proof": draw(st.sampled_from([["receipt"], ["registration"], ["receipt", "registration"]]))
        }
    if draw(st.booleans()):
        record["machines"] = draw(st.sampled_from([
            {"part_1054": True}, {"evaporative": True}, {"regions": ["US-CA"]}, {"regions": ["US"]}, {"hand_held": False},
            {"powers": ["two_stroke", "four_stroke"]}, {"makers": ["Fernhollow"]}, {"displacement": {"below": 225}},
        ]))  # fmt: skip
    if draw(st.booleans()):
        record["excludes"] = [{"ground": "service_elsewhere", "when": draw(whens())}]
    if draw(st.booleans()):
        record["not_denied_for"] = [
            {
                "ground": draw(st.sampled_from(["service_elsewhere", "wrong_assembly", "abuse_or_accident"])),
                "when": draw(whens()),
            }
        ]
    return term_from_dict(record)


def programmes(most: int = 3) -> st.SearchStrategy[tuple[Term, ...]]:
    """One to `most` terms."""
    return st.integers(1, most).flatmap(lambda count: st.tuples(*(terms(f"term-{at}") for at in range(count))))


@st.composite
def units(draw: st.DrawFn) -> UnitFacts:
    """A unit of which everything is known, and nothing contradicts itself."""
    sold = BUILT + timedelta(days=draw(st.integers(0, 30)))
    engine = {"part_1054": draw(st.booleans()), "displacement_cc": draw(st.sampled_from([Decimal(190), Decimal(389)]))}
    registered = draw(st.booleans())
    return replace(
        UNIT, assemblies=(replace(ENGINE, **engine),), build_date=BUILT, sold_on=sold, delivered_on=sold, first_service_on=sold,
        registered_on=sold if registered else None, registered=registered, purchase_proof=draw(st.sampled_from(["receipt", "none"])),
        use_class=draw(st.sampled_from(v.USE_CLASSES)), owner=draw(st.sampled_from(v.OWNERS)),
        transfer_registered=draw(st.booleans()), modified=draw(st.booleans()), other_parts=draw(st.booleans()),
        serviced_by=draw(st.sampled_from(v.SERVICED_BY)), evaporative=draw(st.booleans()), hand_held=draw(st.booleans()),
        severe_service=draw(st.booleans()), hour_meter=draw(st.booleans()), hours=draw(st.sampled_from([Decimal(20), Decimal(50), Decimal("50.1"), Decimal(101)])),
        hours_limit_invoked=draw(st.booleans()), region=draw(st.sampled_from(["US-CA", "US-OH"])),
        maker=draw(st.sampled_from(["Fernhollow", "Another"])),
    )  # fmt: skip


@st.composite
def finding_sets(draw: st.DrawFn, most: int = 3) -> tuple[FindingFacts, ...]:
    """One to `most` findings; a chain of causes runs only backwards, so there is no circle."""
    found: list[FindingFacts] = []
    for at in range(draw(st.integers(1, most))):
        link = draw(st.sampled_from([v.NO_LINK, *[one.id for one in found]]))
        found.append(FindingFacts(
            f"f{at}", draw(st.sampled_from(PARTS)), "engine", "broken", draw(st.sampled_from(v.CAUSES[:9])), link, DAY,
            done_by=draw(st.sampled_from(v.DONE_BY)), upkeep_item="other",
        ))  # fmt: skip
    return tuple(found)


Hidden = tuple[str, str]
UNIT_FACTS = (
    "sold_on", "delivered_on", "registered", "purchase_proof", "use_class", "owner", "transfer_registered", "modified",
    "other_parts", "serviced_by", "evaporative", "hand_held", "hour_meter", "hours", "severe_service", "hours_limit_invoked", "region",
    "meter_changes", "sale_kind", "maker", "build_date", "first_service_on",
)  # fmt: skip
FINDING_FACTS = ("cause", "done_by", "caused_by", "found_on", "assembly")


def hide(
    unit: UnitFacts, findings: tuple[FindingFacts, ...], hidden: list[Hidden]
) -> tuple[UnitFacts, tuple[FindingFacts, ...]]:
    """The same facts with some of them not known.

    That no proof can be had asserts that the day cannot be learnt: where the day is hidden, that is not known either.
    """
    if ("unit.sold_on", "") in hidden and unit.purchase_proof == "none":
        unit = replace(unit, purchase_proof=None)
    if ("unit.registered", "") in hidden:  # the day of it would tell
        unit = replace(unit, registered_on=None)
    by_id = {one.id: one for one in findings}
    for fact in hidden:
        unit, by_id = with_fact(unit, by_id, fact, None)
    return unit, tuple(by_id[one.id] for one in findings)


def hideable(findings: tuple[FindingFacts, ...]) -> list[Hidden]:
    """Every fact that may be hidden."""
    return [
        *((f"unit.{name}", "") for name in UNIT_FACTS), ("assembly.part_1054", "engine"), ("assembly.displacement_cc", "engine"),
        *((f"finding.{name}", one.id) for one in findings for name in FINDING_FACTS),
    ]  # fmt: skip


@st.composite
def small_terms(draw: st.DrawFn, name: str) -> Term:
    """A term that asks for two or three things only, so that several of them often leave no gap between them."""
    record: dict[str, Any] = {
        "id": name, "version": 1, "title": name, "giver": "statute", "source": SOURCE, "components": {"codes": ["carburettor"]},
        "period": {"days": draw(st.sampled_from([5, 60]))}, "start": {"from": draw(st.sampled_from(["sale", "build"]))},
    }  # fmt: skip
    if draw(st.booleans()):
        record["use_classes"] = draw(st.sampled_from([["residential"], ["commercial", "rental"], ["rental"]]))
    if draw(st.booleans()):
        record["to"] = draw(st.sampled_from(["first_owner", "transferred_owner"]))
    rows = st.sampled_from([
        {"modified": True}, {"modified": False}, {"other_parts": True}, {"other_parts": False}, {"owner": ["first"]},
        {"owner": ["later"]}, {"use_class": ["residential"]}, {"serviced_by": ["independent"]},
    ])  # fmt: skip
    record["excludes"] = [{"ground": "excluded_use", "when": draw(rows)} for _ in range(draw(st.integers(0, 2)))]
    if not record["excludes"]:
        del record["excludes"]
    return term_from_dict(record)


def small_programmes() -> st.SearchStrategy[tuple[Term, ...]]:
    """Two to four small terms."""
    return st.integers(2, 4).flatmap(lambda count: st.tuples(*(small_terms(f"term-{at}") for at in range(count))))
