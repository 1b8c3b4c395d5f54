"""Who and what there is in the invented scenario. Every name, number and address here is made up.

The town of Wendle Creek, a shop with four people, two makers, three distributors (one reads Spanish and metric units), six
models. The figures (rates, taxes, promises of makers) are invented too; nothing here is anybody's real term or rate.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from shopdocs.periods import add_months

PASSWORD = "wendle-creek-demo"  # noqa: S105 - printed for everybody who runs the demo

SHOP = {
    "slug": "demo",
    "name": "Wendle Creek Outdoor Power",
    "street": "14 Quarry Lane",
    "city": "Wendle Creek",
    "region": "OH",
    "postcode": "43999",
    "phone": "555-0142",
    "email": "desk@wendlecreek.example",
    "time_zone": "America/New_York",
    "accent": "#2f6b4f",
}


@dataclass(frozen=True)
class Member:
    username: str
    name: str
    roles: tuple[str, ...]
    does: str


PEOPLE = (
    Member("ottilie", "Ottilie Vance", ("owner",), "owner and technician: may do everything"),
    Member("bram", "Bram Okafor", ("writer",), "service writer: check-in, estimates, invoices"),
    Member("delphine", "Delphine Marsh", ("technician",), "technician: findings, photos, time, repair"),
    Member("ruth", "Ruth Calloway", ("office",), "office: terms, claims, credits"),
)

LABOUR_RATES = (("", "92.00"), ("warranty", "92.00"))
TAXES = (
    ("State sales tax (invented)", "5.75", ["labour", "part", "fee", "supplies"]),
    ("County sales tax (invented)", "1.50", ["labour", "part", "fee", "supplies"]),
)

DISTRIBUTORS = {
    "northfell": {
        "name": "Northfell Distribution",
        "email": "claims@northfell.example",
        "street": "Unit 9, Harbour Row",
        "city": "Port Sorrel",
        "region": "PA",
        "postcode": "16999",
        "account": "NF-2207",
    },
    "sable": {
        "name": "Sable River Supply",
        "email": "warranty@sableriver.example",
        "street": "400 Millrace Road",
        "city": "Eastmark",
        "region": "IN",
        "postcode": "46999",
        "account": "88-1042",
        "language": "es",
        "measures": "metric",
    },
    "varrick": {
        "name": "Varrick Engine Service",
        "email": "claims@varrick.example",
        "street": "2 Foundry Court",
        "city": "Holm Station",
        "region": "WI",
        "postcode": "53999",
        "account": "W-0093",
    },
}

DISTRIBUTOR_TERMS: dict[str, dict[str, Any]] = {
    "northfell": {
        "labour_rate": "74.00",
        "time_basis": "guide",
        "parts_percent": "112",
        "parts_base": "cost",
        "filing_days": 30,
        "parts_hold_days": 60,
        "claims_email": "claims@northfell.example",
        "source": "Northfell dealer letter (invented), edition of 1 January 2026",
    },
    "sable": {
        "labour_rate": "70.00",
        "time_basis": "clocked",
        "parts_percent": "115",
        "parts_base": "cost",
        "filing_days": 21,
        "parts_hold_days": 45,
        "answer_days": 30,
        "claims_email": "warranty@sableriver.example",
        "source": "Sable River service agreement (invented), section 4",
    },
    # Its rates were never sent to the shop: the claim says 'not known' instead of guessing.
    "varrick": {"filing_days": 45, "claims_email": "claims@varrick.example", "source": "telephone note (invented)"},
}

MAKERS: dict[str, dict[str, Any]] = {
    "kestrelline": {
        "name": "Kestrelline",
        "authorised": True,
        "approval_before_work": False,
        "distributor": "northfell",
    },
    "quillmoor": {"name": "Quillmoor", "authorised": True, "approval_before_work": True, "distributor": "sable"},
}


@dataclass(frozen=True)
class Model:
    maker: str
    name: str
    family: str
    power_source: str
    hand_held: bool
    displacement_cc: str
    serial: str
    """The pattern of its serial numbers, in words."""


MODELS = {
    "saw": Model(
        "kestrelline", "KL-46 Fell", "saw", "two_stroke", True, "45.6", "K, year and week of build, six digits"
    ),
    "trimmer": Model(
        "kestrelline", "KL-25 Verge", "trimmer", "two_stroke", True, "25.4", "K, year and week, six digits"
    ),
    "backpack": Model(
        "kestrelline", "KL-63 Gale", "backpack", "two_stroke", True, "63.3", "K, year and week, six digits"
    ),
    "mower": Model(
        "quillmoor", "QM-21 Lea", "mower", "four_stroke", False, "190.0", "plant letters, year, five digits"
    ),
    "generator": Model(
        "quillmoor", "QM-3500 Lamp", "generator", "four_stroke", False, "212.0", "plant letters, year, five digits"
    ),
    "pump": Model(
        "quillmoor", "QM-2 Sluice", "pump", "four_stroke", False, "196.0", "plant letters, year, five digits"
    ),
}


@dataclass(frozen=True)
class Somebody:
    """A customer as the counter writes them down."""

    name: str
    kind: str = "household"
    company: str = ""
    email: str = ""
    phone: str = ""
    street: str = ""
    city: str = "Wendle Creek"
    region: str = "OH"
    postcode: str = "43999"

    def fields(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if v}


CUSTOMERS = {
    "odalys": Somebody(
        "Odalys Thornquist", email="odalys@thornquist.example", phone="555-0111", street="8 Weir Street"
    ),
    "crew": Somebody(
        "Ivo Brandt", "crew", "Brandt Grounds Crew", "ivo@brandtgrounds.example", "555-0117", "71 Depot Road"
    ),
    "yard": Somebody(
        "Marguerite Sole",
        "rental_yard",
        "Tollgate Tool Rental",
        "yard@tollgate.example",
        "555-0123",
        "2 Tollgate Plaza",
    ),
    "hanne": Somebody("Hanne Ruud", email="hanne@ruud.example", phone="555-0128", street="33 Orchard Rise"),
    "felix": Somebody("Felix Amadi", email="felix@amadi.example", phone="555-0133", street="5 Chapel Bend"),
    "petra": Somebody("Petra Lindqvist", email="petra@lindqvist.example", phone="555-0139", street="90 Mill Race"),
    "noor": Somebody("Noor Haddad", email="noor@haddad.example", phone="555-0146", street="12 Kiln Row"),
    "yrsa": Somebody("Yrsa Calder", email="yrsa@calder.example", phone="555-0151", street="21 Ferry Steps"),
}


@dataclass(frozen=True)
class Item:
    """A part of the invented catalogue: number, words, list price, cost, component."""

    number: str
    words: str
    list_price: str
    cost: str
    component: str
    maker: str = "kestrelline"


PARTS = {
    "module": Item("KL-30-1182", "Ignition module", "78.40", "52.30", "ignition_module"),
    "backpack_module": Item("KL-30-1640", "Ignition module, backpack", "96.10", "64.00", "ignition_module"),
    "chain": Item("KL-70-0068", "Saw chain, 68 drive links", "28.90", "17.20", "saw_chain"),
    "air_filter": Item("KL-22-0410", "Air filter", "12.60", "6.90", "air_filter"),
    "plug": Item("KL-31-0007", "Spark plug", "6.80", "3.10", "spark_plug"),
    "drum": Item("KL-41-0220", "Clutch drum", "34.50", "21.70", "clutch_drum"),
    "line": Item("KL-50-0031", "Fuel line, one piece", "9.40", "5.20", "fuel_line"),
    "deflector": Item("KL-60-0015", "Exhaust deflector with screws", "8.20", "4.60", "exhaust_deflector"),
    "cover": Item("KL-20-0090", "Engine cover", "41.00", "26.80", "engine_cover"),
    "cable": Item("KL-80-0044", "Throttle cable", "19.70", "12.10", "throttle_cable"),
    "blade": Item("QM-21-5540", "Mower blade, 21 in", "27.30", "16.00", "blade", "quillmoor"),
    "gasket": Item("QM-35-2204", "Crankcase gasket", "11.80", "6.40", "gasket", "quillmoor"),
    "avr": Item("QM-35-7712", "Voltage regulator", "88.00", "57.50", "avr", "quillmoor"),
    "seal": Item("QM-02-3301", "Mechanical seal", "32.20", "19.90", "mechanical_seal", "quillmoor"),
}

OPERATIONS = {
    "cover": ("IG-110", "Take off top cover and fan housing, and fit again", "0.3"),
    "module": ("IG-240", "Replace ignition module and set air gap", "0.4"),
    "diagnose_spark": ("DG-010", "Find the cause of no spark", "0.5"),
    "sharpen": ("SH-010", "Sharpen saw chain and dress the bar", "0.3"),
    "season": ("SV-020", "Season service: clean, filter, plug, adjust, run", "0.8"),
    "drum": ("DR-120", "Replace clutch drum", "0.6"),
    "line": ("FU-030", "Replace fuel line and test for leaks", "0.5"),
    "deflector": ("EX-010", "Fit exhaust deflector", "0.2"),
    "engine_cover": ("CV-020", "Replace engine cover", "0.4"),
    "cable": ("CT-040", "Replace throttle cable and adjust", "0.6"),
    "blade": ("MW-010", "Replace blade, check spindle and balance", "0.4"),
    "gasket": ("EN-140", "Replace crankcase gasket, check both faces", "1.2"),
    "avr": ("GN-060", "Replace voltage regulator and test output under load", "0.7"),
    "seal": ("PU-110", "Replace mechanical seal and test for leaks", "1.1"),
}


def days_ago(days: int) -> Callable[[dt.date], dt.date]:
    """A day counted back from the day of the visit."""
    return lambda today: today - dt.timedelta(days=days)


def months_ago(months: int, days: int = 0) -> Callable[[dt.date], dt.date]:
    """Calendar months, and then days, back from the day of the visit."""
    return lambda today: add_months(today, -months) - dt.timedelta(days=days)


@dataclass(frozen=True)
class Machine:
    """One unit and what is known of it; None is not known. `bought` counts back from the day of the visit.

    `number` is the running number of its serial; the rest of the plate is the maker's pattern (`serial_of`).
    """

    model: str
    number: str
    use_class: str = "residential"
    bought: Callable[[dt.date], dt.date] | None = None
    built_days_before: int = 120
    hours: str | None = None
    meter: bool = False
    first_owner: bool | None = True
    sale_kind: str = "new"
    label_hours: int | None = None
    emission_family: str = ""
    engine_distributor: str = ""
    extra: dict[str, Any] = field(default_factory=dict)


def serial_of(machine: Machine, built: dt.date) -> str:
    """The serial as its maker stamps it: Kestrelline by ISO year and week of build, Quillmoor by plant and year."""
    week = built.isocalendar()
    if MODELS[machine.model].maker == "kestrelline":
        return f"K{week.year % 100:02}{week.week:02}-{machine.number}"
    return f"QA{built.year % 100:02}-{machine.number}"
