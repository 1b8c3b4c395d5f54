"""What is known of a unit and of what was found on it. None is 'not known' and is never guessed.

Dates are calendar dates in the shop's zone; hours, volumes and distances are Decimal. Codes of components,
conditions and causes are the trade's (orders.rules.trade); other words are in `vocabulary`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Any

NOTHING: Mapping[str, bool] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class MeterChange:
    """An hour meter replaced: what the old one showed when it left, and what the new one showed when fitted."""

    day: date
    removed_at: Decimal | None
    fitted_at: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class RepairFacts:
    """An earlier repair: which components, when, at how many hours, by whom, and what it was.

    `done_by` is one of DONE_BY; `under` the id of the term that paid (None: not known, '' : none);
    `part_maker` who made the part; `new_part` False for labour alone.
    """

    day: date
    components: tuple[str, ...]
    done_by: str | None = None
    hours: Decimal | None = None
    under: str | None = None
    part_maker: str | None = None
    new_part: bool | None = None


ON_THE_LABEL = ("part_1054", "emission_family", "useful_life_hours")


@dataclass(frozen=True, slots=True)
class AssemblyFacts:
    """A part of the unit with a maker of its own, the engine above all, and what its label says.

    `label_read` says whether somebody read the label. `part_1054` is what the label shows: an engine certified under
    that part, not one, or (None) not known. `useful_life_hours` is the figure printed there. What is told of a label that
    nobody read (`label_read` False) counts as not known.
    """

    role: str
    maker: str | None = None
    model: str | None = None
    serial: str | None = None
    build_date: date | None = None
    label_read: bool | None = None
    part_1054: bool | None = None
    emission_family: str | None = None
    useful_life_hours: Decimal | None = None
    displacement_cc: Decimal | None = None

    def told(self, field: str) -> Any:
        """A fact of the assembly; of a label that nobody read, nothing."""
        return None if self.label_read is False and field in ON_THE_LABEL else getattr(self, field)


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """One machine.

    `sold_on` is the first sale to a user (of an ex-rental machine: the sale out of the fleet); `purchase_proof` how
    that day is proved, where 'none' asserts that no proof can be had (with `sold_on` None: that the day cannot be learnt,
    so that a term's own rule for such a sale steps in). `first_service_on`: first used (demonstrator,
    rental fleet). `owner` 'first' or 'later'. `region` is ISO 3166-2 or a country ('US-CA', 'US').
    `meter_changes` () asserts that there was none. `upkeep` maps an item of UPKEEP_ITEMS to done as the manual asks.
    `replacement_schedule` maps a component to the months and hours of its first scheduled replacement (either may be
    None); a component not in a known schedule is taken as not scheduled, and the words say so. `repairs` () asserts none. `authorised` and
    `approval_needed` are the shop's standing with each maker. `evaporative`: whether the unit is under evaporative
    standards. `hours_limit_invoked`: whether the giver was asked and insists on an hours limit that it may, but need
    not, invoke. `severe_service`: whether it does what its maker calls severe service (dust, heat, long days). `plans` and `campaigns_done` are codes, and each is the whole list; `plans_known` and `campaigns_known` say of
    single codes whether the plan is held, whether the campaign was done, and go before the lists.
    """

    ref: str = ""
    maker: str | None = None
    model: str | None = None
    family: str | None = None
    serial: str | None = None
    build_date: date | None = None
    sold_on: date | None = None
    purchase_proof: str | None = None
    delivered_on: date | None = None
    registered: bool | None = None
    registered_on: date | None = None
    first_service_on: date | None = None
    sale_kind: str | None = None
    use_class: str | None = None
    region: str | None = None
    power: str | None = None
    hand_held: bool | None = None
    evaporative: bool | None = None
    hour_meter: bool | None = None
    hours: Decimal | None = None
    meter_changes: tuple[MeterChange, ...] | None = None
    hours_limit_invoked: bool | None = None
    owner: str | None = None
    transfer_registered: bool | None = None
    assemblies: tuple[AssemblyFacts, ...] = ()
    modified: bool | None = None
    serviced_by: str | None = None
    other_parts: bool | None = None
    maintenance_records: bool | None = None
    upkeep: Mapping[str, bool] = field(default_factory=lambda: NOTHING)
    fuel: str | None = None
    manual_forbids_fuel: bool | None = None
    proper_fuel_at_hand: bool | None = None
    emergency_repair: bool | None = None
    severe_service: bool | None = None
    replacement_schedule: Mapping[str, tuple[int | None, Decimal | None]] | None = None
    repairs: tuple[RepairFacts, ...] | None = None
    plans: frozenset[str] | None = None
    campaigns_done: frozenset[str] | None = None
    plans_known: Mapping[str, bool] = field(default_factory=lambda: NOTHING)
    campaigns_known: Mapping[str, bool] = field(default_factory=lambda: NOTHING)
    authorised: Mapping[str, bool] = field(default_factory=lambda: NOTHING)
    approval_needed: Mapping[str, bool] = field(default_factory=lambda: NOTHING)
    miles_to_centre: Decimal | None = None

    @property
    def is_registered(self) -> bool | None:
        """Whether it was registered; where the day of that is known, it was."""
        return True if self.registered is None and self.registered_on is not None else self.registered

    def holds_plan(self, code: str) -> bool | None:
        """Whether a plan is held on this unit; None while nobody has looked."""
        return self.plans_known.get(code, None if self.plans is None else code in self.plans)

    def had_campaign(self, code: str) -> bool | None:
        """Whether a campaign was done on this unit; None while nobody has looked."""
        return self.campaigns_known.get(code, None if self.campaigns_done is None else code in self.campaigns_done)

    def assembly(self, role: str) -> AssemblyFacts | None:
        """The assembly with this role, if it was recorded."""
        for one in self.assemblies:
            if one.role == role:
                return one
        return None


@dataclass(frozen=True, slots=True)
class FindingFacts:
    """One thing found. `cause` None or 'unknown' is not known yet.

    `caused_by` is another finding's id, NO_LINK ('none') when it is asserted at sign-off that nothing else caused it,
    or None: not known. `assembly` is the role of the assembly the component belongs to ('unit' for the machine
    itself). `done_by`: who did or left the work, for causes that need an author. `upkeep_item`: which upkeep was left.
    """

    id: str
    component: str
    assembly: str | None = None
    condition: str | None = None
    cause: str | None = None
    caused_by: str | None = None
    found_on: date | None = None
    done_by: str | None = None
    upkeep_item: str | None = None
    never_opened: bool | None = None
    measurement: str | None = None
    signs: tuple[str, ...] = ()
