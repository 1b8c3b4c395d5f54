"""The words that facts and terms are made of, besides the trade's components, conditions and causes.

Each tuple is closed: another word is refused at the door. None always means 'not known', and is never a word here.
"""

from __future__ import annotations

from typing import Final

USE_CLASSES: Final = ("residential", "commercial", "rental")
SALE_KINDS: Final = ("new", "floor_stock", "demonstrator", "ex_rental", "unsold")
PROOFS: Final = ("receipt", "registration", "statement", "none")
POWER: Final = ("two_stroke", "four_stroke", "lpg", "diesel", "battery", "mains")
NO_ENGINE: Final = ("battery", "mains")
OWNERS: Final = ("first", "later")
SERVICED_BY: Final = ("authorised", "independent", "owner", "nobody")
FUELS: Final = ("e0", "e10", "e15", "e85", "stale", "contaminated", "no_oil_in_mix", "wrong_oil", "other")
DONE_BY: Final = ("maker", "authorised", "this_shop", "other_shop", "owner", "nobody")
UPKEEP_ITEMS: Final = (
    "air_filter", "spark_plug", "fuel_filter", "oil_change", "cooling_fins", "greasing", "adjustment", "valve_seats",
    "combustion_deposits", "recommended_extra", "storage", "fasteners", "other",
)  # fmt: skip
CAUSES: Final = (
    "defect", "wear", "impact", "upkeep", "fuel_oil", "assembly", "missing_part", "modification", "environment",
    "normal",
)  # fmt: skip
UNKNOWN_CAUSE: Final = "unknown"

NO_LINK: Final = "none"  # FindingFacts.caused_by: asserted at sign-off that nothing else caused the finding

GIVERS: Final = ("maker", "engine_maker", "part_maker", "shop", "statute", "campaign", "plan")

# What a schedule of replacements says of a part that it does not name; the first two suppose that the part is not scheduled.
NO_SCHEDULE: Final = "no_schedule_recorded"
NOT_IN_SCHEDULE: Final = "not_in_the_recorded_schedule"
NONE_SCHEDULED: Final = "nothing_is_scheduled"

# Why a giver refuses. The first block is what a cause means by itself; the second what a term may ask besides.
GROUND_OF_CAUSE: Final = {
    "defect": "outside_the_promise",
    "wear": "normal_wear",
    "impact": "abuse_or_accident",
    "upkeep": "improper_maintenance",
    "fuel_oil": "improper_fuel_or_oil",
    "assembly": "wrong_assembly",
    "missing_part": "missing_part",
    "modification": "modification",
    "environment": "environment",
    "normal": "no_fault",
}
GROUNDS_OF_AUTHOR: Final = ("makers_service", "makers_fault")
"""Refusing whatever somebody did or left is refusing their work too: these hold beside the ground of the cause."""
GROUNDS: Final = (
    *GROUND_OF_CAUSE.values(), "service_elsewhere", "other_parts", "unrelated_conduct", "records_missing",
    "extra_maintenance", "makers_service", "makers_fault", "emergency_repair", "common_fuel", "registration_card",
    "any_modification", "opened_elsewhere", "excluded_part", "excluded_use",
)  # fmt: skip

YES: Final = "holds"
NO: Final = "fails"
OPEN: Final = "open"

COVERED: Final = "covered"
NOT_COVERED: Final = "not_covered"
CANNOT_SAY: Final = "cannot_say_yet"
NO_FAULT: Final = "no_fault"
ANSWERS: Final = (COVERED, NOT_COVERED, CANNOT_SAY, NO_FAULT)
