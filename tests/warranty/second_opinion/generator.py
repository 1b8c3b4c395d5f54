"""Random units, findings and makers' terms, seeded: days around boundaries, leap days, hours at edges, facts left unknown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from tests.warranty.second_opinion.worked import programme
from tests.warranty.second_opinion.world import add_months
from warranty.coverage import vocabulary as words
from warranty.coverage.facts import AssemblyFacts, FindingFacts, MeterChange, RepairFacts, UnitFacts
from warranty.coverage.shapes import Term
from warranty.coverage.terms import load_terms, term_from_dict

MAKERS = ("Quillmark", "Ostervane", "Pellworth", "Fernhollow")
MODELS = ("QB-70", "QT-25", "OV-190")
FAMILIES = ("saw", "trimmer", "mower", "generator")
REGIONS = ("US-CA", "US-OR", "US-ME", "CA-ON", "US-CA", "US-OH")
PARTS = (
    "carburettor", "fuel_line", "fuel_cap", "ignition_module", "spark_plug", "air_filter", "fuel_filter", "piston",
    "muffler", "muffler_catalyst", "carbon_canister", "tank_vent", "clutch_spring", "blade", "harness", "engine_cover",
    "throttle_cable", "battery", "crank_seal", "fuel",
)  # fmt: skip
CONDITIONS = ("leaks", "broken", "worn", "split", "dead")
LEAPS = (
    date(2024, 2, 29),
    date(2020, 2, 29),
    date(2023, 8, 31),
    date(2023, 1, 31),
    date(2023, 12, 31),
    date(2024, 3, 31),
)
HALF = Decimal("0.5")


@dataclass(frozen=True)
class Drawn:
    """One random order: the unit, what was found, the terms in force, and the day that is asked about."""

    unit: UnitFacts
    findings: tuple[FindingFacts, ...]
    terms: tuple[Term, ...]
    as_of: date


class Terms:
    """The shipped terms, the invented programme, and a pool of random makers' terms."""

    def __init__(self, seed: int, size: int = 300) -> None:
        random = Random(f"terms {seed}")
        self.law = tuple(load_terms())
        self.programme = programme()
        self.pool = tuple(term_from_dict(_record(random, number)) for number in range(size))

    def some(self, random: Random, *, said: bool) -> tuple[Term, ...]:
        """The law, and a handful of promises, which may leave unsaid what they are unless `said`."""
        law = self.law if random.random() < 0.8 else ()
        pool = [one for one in self.pool if not said or None not in (one.consumer_product, one.full)]
        rest = random.sample(pool, random.randint(1, 4))
        return (*law, *rest, *random.sample(self.programme, random.choice((0, 0, 3))))


def _maybe(random: Random, chance: float, **more: Any) -> dict[str, Any]:
    return more if random.random() < chance else {}


def _record(random: Random, number: int) -> dict[str, Any]:
    giver = random.choice(("maker", "maker", "engine_maker", "part_maker", "shop", "plan", "campaign"))
    start = _start(random, giver)
    requires = {
        **_maybe(
            random,
            0.3,
            proof=random.choice((["receipt", "registration"], ["receipt"], ["registration"], ["statement", "receipt"])),
        ),
        **_maybe(random, 0.15, registered_within_days=random.choice((0, 30, 60))),
        **_maybe(random, 0.15, maintenance_records=True),
        **_maybe(random, 0.8 if giver == "plan" else 0, plan="plan-a"),
        **_maybe(random, 0.8 if giver == "campaign" else 0, campaign="recall-a"),
    }
    return {
        "id": f"drawn-{number}", "version": 1, "title": f"Drawn promise {number}", "giver": giver,
        "giver_name": random.choice(MAKERS),
        "source": {"cite": "drawn", "edition": "1", "address": "drawn", "confidence": "invented"},
        **_maybe(random, 0.7, consumer_product=random.random() < 0.6),
        **_maybe(random, 0.6, full=random.random() < 0.5),
        **_maybe(random, 0.2, free=False),
        **_maybe(random, 0.4, machines=_machines(random)),
        **_maybe(random, 0.3, assemblies=random.choice((["engine"], ["unit", "engine"], ["unit"]))),
        "components": _components(random),
        "to": random.choice(("any_owner", "any_owner", "first_owner", "registered_owner", "transferred_owner")),
        **_maybe(random, 0.4, use_classes=random.sample(words.USE_CLASSES, random.randint(1, 2))),
        "start": start,
        "period": _period(random),
        **_maybe(random, 0.35, hours=_hours(random)),
        **_maybe(random, 0.25, severe_service=_severe(random)),
        **_maybe(random, 0.15, no_shorter_than=random.sample(("maker", "engine_maker", "plan"), 2)),
        **_maybe(random, 0.3 if start["from"] != "registration" else 0, replacement="new_period"),
        **_maybe(random, 0.15 if start["from"] != "repair" else 0, may_be_scheduled=random.sample(PARTS, 4)),
        **_maybe(random, 0.7, requires=requires),
        **_maybe(random, 0.4, causes=random.sample(words.CAUSES[:-1], random.randint(1, 4))),
        **_maybe(random, 0.3, causes_when=[_cause_when(random) for _ in range(random.randint(1, 2))]),
        **_maybe(random, 0.5, excludes=[_row(random) for _ in range(random.randint(1, 3))]),
        **_maybe(random, 0.4, not_denied_for=[_row(random) for _ in range(random.randint(1, 3))]),
        "pays": _pays(random),
    }  # fmt: skip


def _components(random: Random) -> dict[str, Any]:
    if random.random() < 0.5:
        return {"all": True, **_maybe(random, 0.5, **{"except": random.sample(PARTS, 3)})}
    if random.random() < 0.5:
        return {"systems": random.sample(("fuel", "ignition", "exhaust", "air_induction", "power_assembly"), 2)}
    return {"codes": random.sample(PARTS, random.randint(1, 6))}


def _machines(random: Random) -> dict[str, Any]:
    first = date(2022, 1, 1) + timedelta(days=random.randint(0, 400))
    return {
        **_maybe(random, 0.2, makers=random.sample(MAKERS, 2)),
        **_maybe(random, 0.1, models=random.sample(MODELS, 2)),
        **_maybe(random, 0.2, families=random.sample(FAMILIES, 3)),
        **_maybe(random, 0.3, regions=random.choice((["US"], ["US-CA"], ["US-OR", "CA"], ["US", "CA-ON"]))),
        **_maybe(random, 0.3, powers=random.sample(words.POWER, 3)),
        **_maybe(random, 0.1, hand_held=random.random() < 0.5),
        **_maybe(random, 0.2, displacement={"from": random.choice((20, 50)), "below": random.choice((80, 225))}),
        **_maybe(random, 0.2, built={"from": first.isoformat()}),
        **_maybe(random, 0.2, sold={"from": first.isoformat(), "to": (first + timedelta(days=900)).isoformat()}),
        **_maybe(random, 0.1, part_1054=random.random() < 0.8),
        **_maybe(random, 0.1, evaporative=random.random() < 0.8),
    }


def _start(random: Random, giver: str) -> dict[str, Any]:
    if giver == "part_maker" or (giver == "shop" and random.random() < 0.7):
        return {"from": "repair", **_maybe(random, 0.5, repair_by=random.sample(words.DONE_BY, 2))}
    base = random.choice(("sale", "sale", "sale", "delivery", "registration", "build", "first_service"))
    lost = {"from": random.choice(("build", "first_service")), "plus_days": random.choice((0, 60))}
    return {
        "from": base,
        **_maybe(random, 0.2, demonstrator=random.choice(("sale", "first_service"))),
        **_maybe(random, 0.2, ex_rental=random.choice(("sale", "first_service"))),
        **_maybe(random, 0.2, floor_stock=random.choice(("sale", "delivery"))),
        **_maybe(random, 0.5 if base == "build" else 0, build_plus_days=30),
        **_maybe(random, 0.4 if base == "sale" else 0, no_proof=lost),
    }


def _period(random: Random) -> dict[str, Any]:
    long = random.choice(
        (
            {"months": 12},
            {"months": 24},
            {"months": 36},
            {"months": 6},
            {"days": 90},
            {"days": 365},
            {"unlimited": True},
        )
    )
    return {
        **long,
        **_maybe(random, 0.2 if "unlimited" not in long else 0, anniversary_inside=False),
        **_maybe(random, 0.15, ends_on=date(2026, random.randint(1, 12), 28).isoformat()),
    }


def _severe(random: Random) -> dict[str, Any]:
    """Shorter than any of `_period` and of `_hours`."""
    hours = {"limit": random.choice((25, 40)), "without_meter": random.choice(("years_only", "fails"))}
    which = random.choice(
        (
            {"period": {"days": 60}},
            {"period": {"months": 2}},
            {"hours": hours},
            {"period": {"days": 30}, "hours": hours},
        )
    )
    return {**which, **_maybe(random, 0.4, uses=random.sample(words.USE_CLASSES, random.randint(1, 2)))}


def _hours(random: Random) -> dict[str, Any]:
    limit = random.choice(({"limit": 50}, {"limit": 125}, {"limit": 300}, {"percent_of_label": 50}))
    return {**limit, "without_meter": random.choice(("years_only", "fails")), "may_be_invoked": random.random() < 0.4}


def _when(random: Random) -> dict[str, Any]:
    return random.choice(
        (
            {"cause": random.sample(words.CAUSES, 3)},
            {"done_by": random.sample(words.DONE_BY, 3)},
            {"upkeep_item": random.sample(words.UPKEEP_ITEMS, 4)},
            {"fuel": random.sample(words.FUELS, 4)},
            {"serviced_by": random.sample(words.SERVICED_BY, 2)},
            {"use_class": random.sample(words.USE_CLASSES, 1)},
            {"owner": ["later"]},
            {"modified": True},
            {"other_parts": True},
            {"emergency_repair": True, "done_by": ["owner"]},
            {"manual_forbids_fuel": True, "proper_fuel_at_hand": True},
            {"maintenance_records": False},
            {"component": random.sample(PARTS, 5)},
            {"condition": random.sample(CONDITIONS, 2)},
        )
    )  # fmt: skip


def _cause_when(random: Random) -> dict[str, Any]:
    return {"cause": random.choice(words.CAUSES[:-1]), "when": _when(random)}


def _row(random: Random) -> dict[str, Any]:
    return {"ground": random.choice(words.GROUNDS), **_maybe(random, 0.8, when=_when(random)), "source": "drawn"}


def _pays(random: Random) -> dict[str, Any]:
    reach = random.choice(("none", "listed", "machine", "some"))
    some = {"consequent_components": {"codes": random.sample(PARTS, 4)}} if reach == "some" else {}
    return {"parts": True, "labour": random.random() < 0.8, "consequent": reach, **some}


# The order: a unit all of whose facts are known.


def known_order(random: Random, terms: Terms, *, said: bool = True) -> Drawn:
    """Everything known; not `said`: but for what a promise says of itself."""
    chosen = terms.some(random, said=said)
    sold = random.choice(LEAPS) if random.random() < 0.3 else date(2023, 1, 1) + timedelta(days=random.randint(0, 900))
    unit = _unit(random, sold)
    found = max(unit.build_date or sold, _near_an_end(random, chosen, unit, sold))
    unit = replace(unit, repairs=_repairs(random, chosen, found), hours=_hours_shown(random, chosen, unit))
    unit = _with_meters(random, unit)
    as_of = found + timedelta(days=random.choice((0, 0, 1, 30)))
    return Drawn(unit, _findings(random, found), chosen, as_of)


def _unit(random: Random, sold: date) -> UnitFacts:
    kind = random.choices(words.SALE_KINDS, (12, 2, 2, 2, 1))[0]
    used_before = kind in ("demonstrator", "ex_rental")
    build = sold - timedelta(days=random.choice((3, 20, 60, 200)))
    used = sold + timedelta(days=random.choice((0, 1, 9)))
    if used_before:
        used = max(build + timedelta(days=2), sold - timedelta(days=random.choice((1, 30, 150))))
    gone = kind == "unsold"
    card = (
        sold + timedelta(days=random.choice((0, 29, 30, 31, 59, 60, 61)))
        if random.random() < 0.6 and not gone
        else None
    )
    return UnitFacts(
        ref="drawn", maker=random.choice(MAKERS[:2]), model=random.choice(MODELS), family=random.choice(FAMILIES),
        serial="K1", build_date=build,
        sold_on=None if gone else sold,
        purchase_proof=random.choices(("receipt", "registration", "none"), (6, 2, 2))[0],
        delivered_on=None if gone else sold + timedelta(days=random.choice((0, 0, 1, 8))),
        registered=card is not None,
        registered_on=card,
        first_service_on=used,
        sale_kind=kind,
        use_class=random.choice(words.USE_CLASSES),
        region=random.choice(REGIONS),
        power=random.choices(words.POWER, (6, 6, 1, 1, 1, 1))[0],
        hand_held=random.random() < 0.5,
        evaporative=random.random() < 0.8,
        hour_meter=random.random() < 0.6,
        meter_changes=(),
        hours_limit_invoked=random.random() < 0.5,
        owner=random.choice(words.OWNERS),
        transfer_registered=random.random() < 0.5,
        assemblies=(_engine(random),),
        modified=random.random() < 0.2,
        serviced_by=random.choice(words.SERVICED_BY),
        other_parts=random.random() < 0.3,
        maintenance_records=random.random() < 0.6,
        fuel=random.choice(words.FUELS),
        manual_forbids_fuel=random.random() < 0.5,
        proper_fuel_at_hand=random.random() < 0.5,
        emergency_repair=random.random() < 0.3,
        severe_service=random.random() < 0.4,
        replacement_schedule=_schedule(random),
        repairs=(),
        plans=frozenset(random.sample(("plan-a", "quillmark-plus"), random.randint(0, 2))),
        campaigns_done=frozenset(random.sample(("recall-a", "recall-7"), random.randint(0, 1))),
    )  # fmt: skip


def _engine(random: Random) -> AssemblyFacts:
    return AssemblyFacts(
        role="engine", maker=random.choice(MAKERS[:2]), model="OV-190", label_read=True,
        part_1054=random.random() < 0.85,
        useful_life_hours=Decimal(random.choice((50, 125, 250, 500, 1000))),
        displacement_cc=random.choice([Decimal(one) for one in ("19.9", "20", "49.9", "50", "79.9", "80", "224.9", "225")]),
    )  # fmt: skip


def _schedule(random: Random) -> Mapping[str, tuple[int | None, Decimal | None]]:
    parts = random.sample(PARTS[:12], random.randint(0, 4))
    points = [(12, None), (None, Decimal(100)), (24, Decimal(50)), (6, Decimal(200))]
    return {part: random.choice(points) for part in parts}


def _near_an_end(random: Random, terms: Sequence[Term], unit: UnitFacts, sold: date) -> date:
    """A day at, or next to, the end of some term that began on some day of the unit."""
    began = [unit.sold_on, unit.delivered_on, unit.first_service_on, unit.build_date, unit.registered_on]
    start = random.choice([day for day in began if day] + [sold])
    term = random.choice([one for one in terms if one.kind == "cover"])
    step = random.choice((-1, 0, 1, 1, 0, -1, 60, -60, -20))
    if term.period.ends_on and random.random() < 0.5:
        return term.period.ends_on + timedelta(days=step)
    grace = random.choice((0, 0, term.start.no_proof_plus_days, term.start.build_plus_days))
    start += timedelta(days=grace)
    end = (
        add_months(start, term.period.months) if term.period.months else start + timedelta(days=term.period.days or 400)
    )
    return random.choice((end, end, start + (end - start) / 2)) + timedelta(days=step)


def _hours_shown(random: Random, terms: Sequence[Term], unit: UnitFacts) -> Decimal:
    limits = [one.hours.limit for one in terms if one.hours and one.hours.limit]
    limits += [one.useful_life_hours * HALF for one in unit.assemblies if one.useful_life_hours]
    limits += [hours for _, hours in (unit.replacement_schedule or {}).values() if hours]
    step = random.choice(("-0.1", "0", "0.1", "-20", "40"))
    return max(Decimal(0), random.choice(limits) + Decimal(step))


def _with_meters(random: Random, unit: UnitFacts) -> UnitFacts:
    """At times the meter was replaced, once or twice: what it shows now is the rest of the same hours."""
    assert unit.hours is not None and unit.build_date is not None
    if random.random() < 0.8:
        return unit
    changes: list[MeterChange] = []
    before = Decimal(0)
    rest = unit.hours
    for number in range(random.choice((1, 2))):
        fitted = Decimal(random.choice((0, 0, 7)))
        ran = min(rest, Decimal(random.choice((5, 20))))
        changes.append(MeterChange(unit.build_date + timedelta(days=40 + number), before + ran, fitted))
        rest, before = rest - ran, fitted
    random.shuffle(changes)
    return replace(unit, hours=before + rest, meter_changes=tuple(changes))


def _repairs(random: Random, terms: Sequence[Term], found: date) -> tuple[RepairFacts, ...]:
    under = ["", *(one.id for one in terms if one.kind == "cover")]
    made = tuple(
        RepairFacts(
            day=found - timedelta(days=random.choice((0, 1, 30, 89, 90, 91, 364, 365, 366, 500))),
            components=tuple(random.sample(PARTS, random.randint(1, 8))),
            done_by=random.choice(words.DONE_BY),
            hours=Decimal(random.choice((0, 5, 40))),
            under=random.choice(under),
            part_maker=random.choice(MAKERS),
            new_part=random.random() < 0.7,
        )
        for _ in range(random.choice((0, 0, 1, 2)))
    )
    # A repair of labour alone names no maker, or that of the part that it worked on.
    return tuple(one if one.new_part or random.random() < 0.3 else replace(one, part_maker=None) for one in made)


def _findings(random: Random, found: date) -> tuple[FindingFacts, ...]:
    """One to four findings; some because of an earlier one, one of them at times long before."""
    made: list[FindingFacts] = []
    for number in range(random.choice((1, 1, 2, 3, 4))):
        link = random.choice(made).id if made and random.random() < 0.6 else words.NO_LINK
        made.append(
            FindingFacts(
                id=f"f{number}", component=random.choice(PARTS), assembly=random.choice(("unit", "engine", "engine")),
                condition=random.choice(CONDITIONS),
                cause=random.choices(words.CAUSES, (24, 2, 2, 4, 3, 4, 2, 2, 1, 1))[0],
                caused_by=link, found_on=found, done_by=random.choice(words.DONE_BY),
                upkeep_item=random.choice(words.UPKEEP_ITEMS),
            )
        )  # fmt: skip
    random.shuffle(made)
    return tuple(made)


# What nobody knows.

BLANKS = (
    "maker", "model", "family", "build_date", "sold_on", "purchase_proof", "delivered_on", "registered", "registered_on",
    "first_service_on", "sale_kind", "use_class", "region", "power", "hand_held", "evaporative", "hour_meter", "hours",
    "meter_changes", "hours_limit_invoked", "owner", "transfer_registered", "modified", "serviced_by", "other_parts",
    "maintenance_records", "fuel", "manual_forbids_fuel", "proper_fuel_at_hand", "emergency_repair", "severe_service",
    "replacement_schedule", "repairs", "plans", "campaigns_done",
)  # fmt: skip
LABEL = ("maker", "part_1054", "useful_life_hours", "displacement_cc")
OF_FINDING = ("cause", "caused_by", "assembly", "done_by", "upkeep_item", "condition", "found_on")


def order_with_unknowns(random: Random, terms: Terms, most: int = 3) -> Drawn:
    """The same, with up to `most` facts left unknown."""
    drawn = known_order(random, terms, said=False)
    unit, findings = drawn.unit, list(drawn.findings)
    for _ in range(random.randint(1, most)):
        where = random.random()
        if where < 0.1 and unit.repairs:
            name = random.choice(("done_by", "hours", "under", "part_maker", "new_part"))
            unit = replace(unit, repairs=(replace(unit.repairs[0], **{name: None}), *unit.repairs[1:]))
        elif where < 0.14 and unit.meter_changes:
            unit = replace(
                unit, meter_changes=(replace(unit.meter_changes[0], removed_at=None), *unit.meter_changes[1:])
            )
        elif where < 0.6:
            name = random.choice(BLANKS)
            vague = {"purchase_proof": "statement", "region": "US"}.get(name) if random.random() < 0.5 else None
            unit = replace(unit, **{name: vague})
        elif where < 0.75:
            unit = replace(unit, assemblies=(replace(unit.assemblies[0], **{random.choice(LABEL): None}),))
        else:
            number = random.randrange(len(findings))
            findings[number] = replace(findings[number], **{random.choice(OF_FINDING): None})
    return Drawn(unit, tuple(findings), drawn.terms, drawn.as_of)


def told(drawn: Drawn) -> str:
    """The order in a few lines, for a failure message: what differs from an empty record."""

    def plain(record: Any) -> str:
        return ", ".join(
            f"{one.name}={getattr(record, one.name)!r}"
            for one in fields(record)
            if getattr(record, one.name) is not None
        )

    return "\n".join((f"as of {drawn.as_of}", plain(drawn.unit), *map(plain, drawn.findings)))
