"""Readings of the sections of a term: who gives it, to which machines, from when, how long, and what it asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from orders.rules.strict import Node
from orders.rules.trade import trade
from warranty.coverage import vocabulary as v
from warranty.coverage.reading_parts import choice, flag, opt, source_of, texts
from warranty.coverage.schema import amount, day
from warranty.coverage.shapes import Hours, Machines, Period, Severe, Start
from warranty.coverage.timing import last_day

STARTS = ("sale", "delivery", "registration", "first_service", "build", "repair")
OWNERS = ("any_owner", "first_owner", "registered_owner", "transferred_owner")
RULES = (
    "machines", "label", "assembly", "component", "owner", "use", "version", "time", "start", "hours", "no_shorter_than",
    "scheduled", "proof", "registration", "records", "plan", "campaign", "cause", "consequent", "pays",
)  # fmt: skip


def common_of(row: Mapping[str, Node]) -> dict[str, Any]:
    """What every term has: id, version, title, source, citations by rule."""
    cites = row["sources"].fields([], RULES) if "sources" in row else {}
    return {
        "id": row["id"].text(), "version": row["version"].whole(1, 10_000), "title": row["title"].text(),
        "source": source_of(row["source"]), "sources": tuple((rule, cite.text()) for rule, cite in cites.items()),
    }  # fmt: skip


def who_of(row: Mapping[str, Node]) -> dict[str, Any]:
    """Who gives the promise, to whom, for which assemblies and uses."""
    giver = row["giver"].one_of(v.GIVERS, "giver")
    name = opt(row, "giver_name", Node.text)
    if giver in ("maker", "engine_maker", "part_maker") and name is None:
        raise row["giver"].refuse(f"a term of a {giver} needs 'giver_name'")
    return {
        "giver": giver, "giver_name": name, "free": flag(row, "free", giver != "plan"),
        "duty_on": row["duty_on"].one_of(("maker", "engine_maker", "part_maker", "shop"), "duty_on") if "duty_on" in row else None,
        "consumer_product": opt(row, "consumer_product", Node.flag), "full": opt(row, "full", Node.flag),
        "assemblies": texts(row, "assemblies"), "to": choice(row, "to", OWNERS, "any_owner"),
        "use_classes": texts(row, "use_classes", v.USE_CLASSES, "use class"),
    }  # fmt: skip


def asked_of(row: Mapping[str, Node]) -> dict[str, Any]:
    """What a term asks for."""
    asked = {}
    if "requires" in row:
        asked = row["requires"].fields(
            [], ["proof", "registered_within_days", "maintenance_records", "plan", "campaign"]
        )
    return {
        "proof": texts(asked, "proof", ("receipt", "registration", "statement"), "proof"),
        "register_within_days": asked["registered_within_days"].whole(0, 3650) if "registered_within_days" in asked else None,
        "records": flag(asked, "maintenance_records", False),
        "plan": opt(asked, "plan", Node.text), "campaign": opt(asked, "campaign", Node.text),
        "no_shorter_than": texts(row, "no_shorter_than", v.GIVERS, "giver"),
        "replacement": choice(row, "replacement", ("remainder", "new_period"), "remainder"),
        "may_be_scheduled": frozenset(texts(row, "may_be_scheduled", trade().components, "component")),
    }  # fmt: skip


def machines_of(node: Node | None) -> Machines:
    """Which machines a term speaks of."""
    if node is None:
        return Machines()
    row = node.fields([], ["makers", "models", "families", "regions", "powers", "hand_held", "displacement", "built",
                           "sold", "label_of", "part_1054", "evaporative"])  # fmt: skip
    size = row["displacement"].fields([], ["from", "below"]) if "displacement" in row else {}
    built = row["built"].fields([], ["from", "to"]) if "built" in row else {}
    sold = row["sold"].fields([], ["from", "to"]) if "sold" in row else {}
    for span in (built, sold):
        if "from" in span and "to" in span and day(span["to"]) < day(span["from"]):
            raise span["to"].refuse("the span ends before it starts")
    return Machines(
        makers=texts(row, "makers"), models=texts(row, "models"),
        families=texts(row, "families", trade().families, "family"), regions=texts(row, "regions"),
        powers=texts(row, "powers", v.POWER, "power source"), hand_held=opt(row, "hand_held", Node.flag),
        displacement_from=opt(size, "from", amount), displacement_below=opt(size, "below", amount),
        built_from=opt(built, "from", day), built_to=opt(built, "to", day),
        sold_from=opt(sold, "from", day), sold_to=opt(sold, "to", day),
        label_of=row["label_of"].text() if "label_of" in row else "engine",
        part_1054=opt(row, "part_1054", Node.flag), evaporative=opt(row, "evaporative", Node.flag),
    )  # fmt: skip


def start_of(node: Node | None) -> Start:
    """From what a period runs."""
    if node is None:
        return Start()
    row = node.fields(
        ["from"], ["floor_stock", "demonstrator", "ex_rental", "build_plus_days", "no_proof", "repair_by"]
    )
    base = row["from"].one_of(STARTS, "start")
    used = "first_service" if base in STARTS[:3] else base  # a sale after use winds no clock up again
    proof = row["no_proof"].fields(["from"], ["plus_days"]) if "no_proof" in row else {}
    return Start(
        base, choice(row, "floor_stock", STARTS[:5], base), choice(row, "demonstrator", STARTS[:5], used),
        choice(row, "ex_rental", STARTS[:5], used),
        row["build_plus_days"].whole(0, 36_500) if "build_plus_days" in row else 0,
        proof["from"].one_of(("build", "first_service"), "start") if proof else None,
        proof["plus_days"].whole(0, 36_500) if "plus_days" in proof else 0,
        texts(row, "repair_by", v.DONE_BY, "repairer"),
    )  # fmt: skip


def period_of(node: Node) -> Period:
    """How long a period is."""
    row = node.fields([], ["months", "days", "unlimited", "anniversary_inside", "ends_on"])
    if sum(key in row for key in ("months", "days", "unlimited")) != 1:
        raise node.refuse("say one of 'months', 'days' and 'unlimited: true'")
    if "unlimited" in row and not row["unlimited"].flag():
        raise row["unlimited"].refuse("'unlimited' is true or left out")
    return Period(
        row["months"].whole(1, 1200) if "months" in row else None, row["days"].whole(1, 36_500) if "days" in row else None,
        "unlimited" in row, flag(row, "anniversary_inside", True), opt(row, "ends_on", day),
    )  # fmt: skip


def hours_of(node: Node) -> Hours:
    """The hours limit."""
    row = node.fields(["without_meter"], ["limit", "percent_of_label", "may_be_invoked"])
    if ("limit" in row) == ("percent_of_label" in row):
        raise node.refuse("say one of 'limit' and 'percent_of_label'")
    return Hours(
        opt(row, "limit", amount), opt(row, "percent_of_label", amount),
        row["without_meter"].one_of(("years_only", "fails"), "rule without a meter"), flag(row, "may_be_invoked", False),
    )  # fmt: skip


def severe_of(row: Mapping[str, Node]) -> Severe | None:
    """The shorter figures for severe service; longer ones are refused. The anniversary and a fixed end are the term's own."""
    if "severe_service" not in row:
        return None
    node = row["severe_service"]
    told = node.fields([], ["uses", "period", "hours"])
    if "period" not in told and "hours" not in told:
        raise node.refuse("say one of 'period' and 'hours', or both")
    own, hours = period_of(row["period"]), hours_of(told["hours"]) if "hours" in told else None
    period = None
    if "period" in told:
        told["period"].fields([], ["months", "days"])
        short = period_of(told["period"])
        period = replace(short, anniversary_inside=own.anniversary_inside, ends_on=own.ends_on)
        if any(last_day(day, period) > last_day(day, own) for day in SAMPLE_DAYS):
            raise told["period"].refuse("the period in severe service is longer than the other")
    plain = hours_of(row["hours"]).limit if "hours" in row else None
    if hours is not None and hours.limit is not None and plain is not None and hours.limit > plain:
        raise told["hours"].refuse("the hours in severe service are more than the others")
    return Severe(texts(told, "uses", v.USE_CLASSES, "use class"), period, hours)


SAMPLE_DAYS = (date(2023, 1, 31), date(2023, 2, 1), date(2024, 2, 29))
