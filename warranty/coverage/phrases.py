"""The phrases of the explanation: per rule what is said when it holds, fails or is open; names of facts and grounds."""

from __future__ import annotations

from typing import Final

from warranty.coverage.vocabulary import NO_SCHEDULE, NONE_SCHEDULED, NOT_IN_SCHEDULE

PHRASES: Final[dict[str, tuple[str, str, str]]] = {
    "component": ("this part is one that the term covers", "this part is not one that the term covers",
                  "the part is covered only if what caused it is"),
    "machines": ("the term speaks of this machine", "the term does not speak of this machine",
                 "whether the term speaks of this machine"),
    "assembly": ("the part belongs to what the term covers", "the part belongs to another assembly",
                 "which assembly the part belongs to"),
    "label": ("the label shows what the term asks", "the label does not show what the term asks", "what the label shows"),
    "version": ("this edition of the term was in force when it was sold", "another edition was in force when it was sold",
                "whether this edition was in force when it was sold"),
    "owner": ("this owner has the promise", "the promise does not go to this owner", "whether this owner has the promise"),
    "use": ("the use is one that the term covers", "the use is not one that the term covers", "how the machine is used"),
    "time": ("it was found inside the period", "it was found outside the period", "whether it was found inside the period"),
    "hours": ("the hours are inside the limit, or no limit counts", "the hours are past the limit",
              "whether an hours limit stands in the way"),
    "scheduled": ("the part is not past its first scheduled replacement", "the part is past its first scheduled replacement",
                  "whether the part is due for scheduled replacement"),
    "proof": ("the sale is proved as the term asks", "the sale cannot be proved as the term asks", "proof of the sale"),
    "registration": ("registration is in order, or may not be asked for", "it was not registered in time",
                     "whether it was registered in time"),
    "records": ("upkeep can be shown, or may not be asked for", "upkeep cannot be shown", "whether upkeep can be shown"),
    "plan": ("the plan is held", "the plan is not held", "whether the plan is held"),
    "campaign": ("the campaign is still open for this unit", "the campaign was done on this unit already",
                 "whether the campaign was done on this unit"),
    "cause": ("the term answers for this cause", "the term does not answer for this cause", "what caused it"),
    "consequent": ("it stands by itself, or the term pays what follows from a covered failure",
                   "it follows from something else that this term does not pay for", "whether something else caused it"),
    "excludes": ("this exclusion does not apply", "an exclusion applies", "whether an exclusion applies"),
}  # fmt: skip

FACTS: Final[dict[str, str]] = {
    "unit.maker": "maker", "unit.model": "model", "unit.family": "family", "unit.region": "region of use",
    "unit.power": "power source", "unit.hand_held": "hand-held or not", "unit.build_date": "build date",
    "unit.evaporative": "whether evaporative standards apply", "unit.sold_on": "day of the first sale",
    "unit.delivered_on": "day of delivery", "unit.registered": "registration", "unit.registered_on": "day of registration",
    "unit.first_service_on": "day of first use", "unit.sale_kind": "kind of sale", "unit.use_class": "use class",
    "unit.purchase_proof": "proof of purchase", "unit.owner": "first owner or not", "unit.transfer_registered": "registered transfer",
    "unit.hour_meter": "hour meter", "unit.hours": "hours run", "unit.meter_changes": "whether the meter was changed",
    "unit.hours_limit_invoked": "whether the giver insists on the hours", "unit.modified": "modified or not",
    "unit.serviced_by": "who serviced it", "unit.other_parts": "parts of another make", "unit.fuel": "fuel",
    "unit.maintenance_records": "records of upkeep", "unit.manual_forbids_fuel": "whether the manual forbids the fuel",
    "unit.proper_fuel_at_hand": "whether the proper fuel is sold nearby", "unit.emergency_repair": "emergency repair",
    "unit.severe_service": "severe service, as the maker calls it",
    "unit.replacement_schedule": "schedule of replacements", "unit.repairs": "earlier repairs", "unit.plans": "plans",
    "unit.campaigns_done": "campaigns done", "finding.component": "part", "finding.assembly": "assembly it belongs to",
    "finding.condition": "condition", "finding.cause": "cause", "finding.caused_by": "whether another fault caused it",
    "finding.found_on": "day found", "finding.done_by": "who did or left the work", "finding.upkeep_item": "upkeep left undone",
    "assembly.part_1054": "engine of part 1054 on the label", "assembly.useful_life_hours": "hours printed on the label",
    "assembly.displacement_cc": "displacement", "assembly.maker": "maker of the engine",
    "term.consumer_product": "whether the promise is one on a consumer product", "term.full": "whether the warranty is called full or limited",
}  # fmt: skip

GROUNDS: Final[dict[str, str]] = {
    "outside_the_promise": "that the term promises something else", "normal_wear": "normal wear", "abuse_or_accident": "abuse or an accident", "improper_maintenance": "upkeep left undone",
    "improper_fuel_or_oil": "the fuel or oil", "wrong_assembly": "wrong assembly", "missing_part": "a missing part",
    "modification": "a modification that caused it", "environment": "heat or environment", "no_fault": "that nothing is wrong",
    "service_elsewhere": "service by a shop of the owner's choice", "other_parts": "parts of another make",
    "unrelated_conduct": "something the owner did or left that has nothing to do with it",
    "records_missing": "missing records of upkeep", "extra_maintenance": "upkeep done more often than asked",
    "makers_service": "work done by the maker or its authorised shops", "makers_fault": "what is the maker's own fault",
    "emergency_repair": "an operator's emergency repair", "common_fuel": "a fuel that is commonly sold there",
    "registration_card": "a registration card not sent in", "any_modification": "a modification that has nothing to do with it",
    "opened_elsewhere": "that it was opened elsewhere", "excluded_part": "a part left out by the term",
    "excluded_use": "a use left out by the term",
}  # fmt: skip

REFUSED: Final[dict[str, str]] = {
    "causes_in_a_circle": "the findings cause each other in a circle. Say which came first.",
    "cause_not_found": "the chain of causes names a finding that is not on this order. Correct the link.",
    "found_after_the_day_asked": "it was found after the day that was asked about. Ask for that day or later.",
    "caused_by_something_normal": "its cause is marked as normal, and something normal causes no damage. Check both.",
}

WARNINGS: Final[dict[str, str]] = {
    "sold_in_the_future": "the day of sale lies in the future.",
    "built_after_it_was_sold": "it was built after it was sold.",
    "used_before_it_was_sold_new": "it was used before it was sold as new: perhaps a demonstrator.",
    "registered_before_it_was_sold": "it was registered before it was sold.",
    "hours_without_a_meter": "hours are given though it has no meter.",
    "meter_ran_backwards": "a replaced meter ran backwards.",
    "label_told_but_not_read": "the label is said not to have been read, and yet something is told of it: it counts as not known.",
    "other_parts_but_not_modified": "parts of another make are fitted though it is said not to be modified.",
    "worn_though_new": "normal wear is marked on a machine that is almost new.",
    "never_opened_but_wrongly_assembled": "it was never opened, and yet wrong assembly is given as the cause.",
    "modified_though_said_not_to_be": "a modification is the cause though the unit is said not to be modified.",
    "found_before_it_was_sold": "it was found before the machine was sold.",
    "normal_but_caused": "it is marked as normal and yet as caused by something else.",
    "in_order_but_with_a_cause": "the part is in order and yet has a cause of failure.",
}

SILENT_SCHEDULES: Final[dict[str, str]] = {
    NO_SCHEDULE: "no schedule of replacements is recorded; it is taken that the maker does not schedule this part: read the maintenance schedule to be sure",
    NOT_IN_SCHEDULE: "the recorded schedule does not name this part; it is taken as not scheduled: read the maintenance schedule to be sure",
    NONE_SCHEDULED: "it is recorded that nothing is scheduled for replacement",
}  # fmt: skip

ROUTES: Final[dict[str, str]] = {
    "repair_and_claim": "This shop may repair and claim.",
    "approval_first": "Get approval from {maker} before any work.",
    "send_on": "This shop is not authorised by {maker}: send the machine on to one that is, or ask for approval.",
    "not_known": "Whether this shop may do the work for {maker} is not recorded: ask first.",
    "no_claim": "There is no claim to file.",
    "far": (
        "The owner is far from an authorised centre: the maker has to pay shipping both ways, send a technician, or pay a "
        "local shop that is not authorised (contiguous states only, without the high-altitude areas)."
    ),
}

MARKS: Final[dict[str, str]] = {"holds": "Yes: {phrase}", "fails": "No: {phrase}", "open": "Not known yet: {phrase}"}

HEADS: Final[dict[str, str]] = {
    "holds": "{term} ({source}, {edition}; {confidence}; {confirm}) holds.",
    "fails": "{term} ({source}, {edition}; {confidence}; {confirm}) does not help.",
    "open": "{term} ({source}, {edition}; {confidence}; {confirm}) is still open.",
}

ANSWERS: Final[dict[str, str]] = {
    "not_covered": "Not covered: every term that was tried fails.",
    "cannot_say_yet": "Cannot say yet: no term holds for sure, and at least one still may.",
    "no_fault": "No fault: this is normal. Explain it to the customer; nothing is claimed and nothing is repaired.",
}

PAYS: Final[dict[str, str]] = {
    "warranty": "The warranty should pay.", "shop": "The shop should pay, under its own warranty.",
    "customer": "The customer pays.", "open": "Who pays is open until the facts above are known.",
    "nobody": "There is nothing to pay for but the look itself.",
}  # fmt: skip

COULD: Final[dict[str, str]] = {
    "warranty": "a warranty", "shop": "the shop, under its own warranty", "goodwill": "somebody's goodwill", "customer": "the customer",
}  # fmt: skip

SETTLED: Final[dict[str, str]] = {
    "open": "Usually settled as {how}; it is open for this unit.",
    "expired": "Usually settled as {how}; its bulletin has expired.",
    "done_already": "Usually settled as {how}; it was done on this unit already.",
    "ask_whether_done": "Usually settled as {how}; ask whether it was done on this unit already.",
}

SETTLED_OTHERWISE: Final[dict[str, str]] = {
    "open": "Usually settled in different ways; it is open for this unit.",
    "expired": "Usually settled in different ways; its bulletin has expired.",
    "done_already": "Usually settled in different ways; it was done on this unit already.",
    "ask_whether_done": "Usually settled in different ways; ask whether it was done on this unit already.",
}
