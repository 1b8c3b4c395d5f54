"""A month at the shop: ten visits, each with a case that costs money when it is judged on paper and memory alone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from . import till, world
from .floor import V1, Floor, Visit
from .pictures import picture, receipt_pdf
from .world import Machine, days_ago, months_ago


def saw_that_will_not_start(floor: Floor) -> str:
    """The main job, whole: a covered ignition module, a chain that is the owner's, four papers, a claim paid in full."""
    machine = Machine(
        "saw", "004418", bought=months_ago(18, 9), label_hours=125, emission_family="TKLX.0456AB", hours=None
    )
    visit = floor.check_in(
        "odalys", machine, "It quit while cutting and will not start again. Please sharpen the chain as well.", ["bar cover", "combination tool"]
    )  # fmt: skip
    bought = machine.bought(floor.today()) if machine.bought else floor.today()
    text = {
        "shop": "Millbrook Garden Machines",
        "date": f"{bought:%d %b %Y}",
        "number": "40117",
        "item": "KL-46 Fell",
        "serial": visit.serial,
        "total": "$489.00",
    }
    visit.proof("receipt", receipt_pdf(text), "receipt.pdf", bought)
    visit.photo("whole_unit_saw", "check_in", "The saw as it came in")
    visit.photo("serial_plate", "serial_plate", "Serial plate, legible")
    visit.photo("emission_label", "label", "Emission label on the shroud", hours="125", family="TKLX.0456AB")
    visit.look_over({"ignition_module": "spark", "saw_chain": "chain"})
    visit.find(
        "spark", "ignition_module", "dead", "defect",
        "No spark at a new plug with the stop lead taken off. Air gap is right, flywheel magnets are strong.",
        of_engine=True, measured="1.9", measured_unit="Mohm",
    )  # fmt: skip
    visit.photo(
        "ignition_module", "before", "Module out of the machine, measured open", "spark", number="KL-30-1182",
        marks=("arrow 12 18 40 42", "circle 50 50 66 50", "scale 20 88 60 88 40 mm"),
    )  # fmt: skip
    visit.find(
        "chain", "saw_chain", "dull", "wear", "Teeth rounded from ground contact; the bar is dressed at the same time."
    )
    decisions = visit.decide()
    visit.job(
        "module", "Replace ignition module", ["spark"], ["diagnose_spark", "cover", "module"], [("module", "1", True)]
    )
    visit.charge_warranty("module", decisions["spark"])
    visit.job("chain", "Sharpen chain, dress bar", ["chain"], ["sharpen"], [])
    letter = visit.estimate()
    visit.customer_answers(letter["link"], if_refused={"module": {"choice": "pay_up_to", "up_to": "150.00"}})
    visit.repair("module", 64, "Fitted a new ignition module, set the air gap, tested for spark and hot restart.")
    visit.photo("new_part", "after", "New module fitted, gap set", "spark", part="Ignition module", number="KL-30-1182")
    visit.repair("chain", 17, "Sharpened the chain and dressed the bar.")
    visit.finish()
    visit.order_paper()
    claim = visit.claim("module")
    visit.invoice()
    visit.give_back()
    floor.at(floor.today() + dt.timedelta(days=9), 10)
    settle(floor, claim, "in_full")
    return visit.order["id"]


def settle(floor: Floor, claim: dict[str, Any], outcome: str, share: int = 100, words: str = "") -> None:
    """The distributor answers and the credit comes; `share` is the percentage that it grants of what was asked."""
    path, reference = f"{V1}/claims/{claim['id']}", f"CR-{str(claim['number'])[-4:]}"
    granted = {
        f"{kind}_approved": str((Decimal(claim[f"{kind}_expected"]) * share / 100).quantize(Decimal("0.01")))
        for kind in ("labour", "parts")
    }
    today = str(floor.today())
    answered = floor.office.post(
        f"{path}/answer/",
        version=floor.office.get(f"{path}/")["version"],
        outcome=outcome,
        answered_on=today,
        reference=reference,
        words=words,
        **granted,
    )
    total = sum(Decimal(amount) for amount in granted.values())
    floor.office.post(
        f"{path}/credits/", version=answered["version"], amount=str(total), received_on=today, reference=reference
    )


def trimmer_out_by_a_day(floor: Floor) -> str:
    """Two years and one day after the sale: not covered, and said how narrowly."""
    machine = Machine("trimmer", "001207", bought=months_ago(24, 1), label_hours=50, emission_family="RKLX.0254CD")
    visit = floor.check_in("hanne", machine, "The head turns at idle and rattles.", ["harness"])
    visit.photo("serial_plate", "serial_plate", "Serial plate")
    visit.look_over({"clutch_drum": "drum"})
    visit.find("drum", "clutch_drum", "cracked", "defect", "Drum cracked from the hub outwards, no mark of impact.")
    visit.photo("worn_clutch", "before", "Cracked clutch drum", "drum")
    visit.decide()
    visit.job("drum", "Replace clutch drum", ["drum"], ["drum"], ["drum"])
    letter = visit.estimate()
    visit.customer_answers(letter["link"])
    visit.repair("drum", 38, "Fitted a new clutch drum; the head stands still at idle.")
    visit.finish()
    visit.made_safe("Drum replaced, the head stands still at idle.")
    invoice = visit.invoice("cash")
    till.take_back(visit, invoice, "10.00", "Promised for the day before: ten off the labour.", "cash")
    visit.give_back()
    return visit.order["id"]


def rental_blower_past_ninety_days(floor: Floor) -> str:
    """The maker's 90 days are long over, yet the emission warranty pays for the module: diagnosis included. Paid in part."""
    machine = Machine(
        "backpack", "000913", "rental", bought=months_ago(14), label_hours=300, emission_family="SKLX.0633EF",
        meter=True, hours="96.4",
    )  # fmt: skip
    visit = floor.check_in("yard", machine, "Stops when hot, starts again after an hour.", [])
    visit.photo("whole_unit_blower", "check_in", "The blower as it came in")
    visit.photo("serial_plate", "serial_plate", "Serial plate")
    visit.photo("hour_meter", "hour_meter", "Hour meter", hours="96.4")
    visit.photo("emission_label", "label", "Emission label", hours="300", family="SKLX.0633EF")
    visit.proof(
        "dealer_record",
        picture("receipt", seed=77, taken_at=floor.clock.now(), text={"item": "KL-63 Gale"}),
        "invoice.jpg",
        machine.bought(floor.today()) if machine.bought else None,
    )
    visit.look_over({"ignition_module": "module"})
    visit.find(
        "module", "ignition_module", "intermittent", "defect", "Spark is lost at 70 C on the bench and comes back when cold.",
        of_engine=True, measured="70", measured_unit="C",
    )  # fmt: skip
    visit.photo("ignition_module", "before", "Module on the bench heater", "module", number="KL-30-1640")
    decisions = visit.decide()
    visit.job(
        "module", "Replace ignition module", ["module"], ["diagnose_spark", "module"], [("backpack_module", "1", True)]
    )
    visit.charge_warranty("module", decisions["module"])
    letter = visit.estimate()
    visit.customer_answers(letter["link"], if_refused={"module": {"choice": "ask_me"}})
    visit.repair("module", 71, "Fitted a new module, ran it hot for 30 minutes.")
    visit.photo("new_part", "after", "New module fitted", "module", part="Ignition module", number="KL-30-1640")
    visit.finish()
    claim = visit.claim("module")
    visit.give_back()
    floor.at(floor.today() + dt.timedelta(days=6), 11)
    settle(floor, claim, "in_part", 60, "Diagnosis cut from the labour; parts at cost.")
    till.turn_over(floor, claim, "The yard was told it costs them nothing.")
    till.send_statement(visit, "distributor", claim["distributor"])
    return visit.order["id"]


def mower_that_hit_a_stump(floor: Floor) -> str:
    """Abuse, inside the period: not covered. The owner takes the blade and declines the rest."""
    machine = Machine(
        "mower",
        "10422",
        bought=months_ago(7),
        label_hours=125,
        emission_family="TQMX.1900GH",
        engine_distributor="varrick",
    )
    visit = floor.check_in("felix", machine, "It shakes badly since last week.", ["grass bag"])
    visit.photo("whole_unit_mower", "check_in", "The mower as it came in")
    visit.look_over({"blade": "blade", "deck_spindle": "spindle"})
    visit.find(
        "blade",
        "blade",
        "bent",
        "impact",
        "One tip bent up 14 mm, a fresh notch with bark in it.",
        measured="14",
        measured_unit="mm",
    )
    visit.find(
        "spindle",
        "deck_spindle",
        "vibrates",
        "impact",
        "Runs out 0.4 mm: it took the same blow.",
        because="blade",
        measured="0.4",
        measured_unit="mm",
    )
    visit.photo("bent_blade", "before", "Bent blade with bark in the notch", "blade")
    visit.decide()
    visit.job("blade", "Replace blade", ["blade"], ["blade"], ["blade"])
    visit.job("clean", "Clean and oil the deck for winter", [], ["season"], [])
    letter = visit.estimate()
    visit.customer_answers(letter["link"], refuse=("clean",))
    visit.repair("blade", 31, "Fitted a new blade, checked the crankshaft and spindle for true running.")
    visit.finish()
    visit.made_safe("Blade replaced and balanced; no vibration at full speed.")
    invoice = visit.invoice("")
    till.pay(floor, invoice, str(till.left(floor, invoice) - Decimal("2.50")), "transfer")
    visit.give_back()
    till.write_off(floor, invoice, "The bank kept 2.50 of the transfer; a letter would cost more.")
    return visit.order["id"]


def generator_with_unknown_facts(floor: Floor) -> str:
    """No proof of purchase, hours not read, label not read: 'cannot say yet', with what would settle it."""
    machine = Machine("generator", "03377", "commercial", meter=True, first_owner=None, sale_kind="unknown")
    visit = floor.check_in("crew", machine, "Runs, but there is no power at the outlets.", ["wheel kit"])
    visit.photo("whole_unit_generator", "check_in", "The generator as it came in")
    visit.look_over({"avr": "avr"})
    visit.find(
        "avr",
        "avr",
        "dead",
        "defect",
        "No excitation; field winding and brushes measure right.",
        measured="0",
        measured_unit="V",
    )
    visit.decide()
    visit.job("avr", "Replace voltage regulator", ["avr"], ["avr"], ["avr"])
    visit.estimate()
    till.take_deposit(visit, "50.00", "cash")
    return visit.order["id"]


def pump_of_a_second_owner(floor: Floor) -> str:
    """Inside three years and a defect, but the promise goes to the first owner only; a seal is no emission part."""
    machine = Machine(
        "pump",
        "20815",
        bought=months_ago(16),
        first_owner=False,
        label_hours=250,
        emission_family="RQMX.1960JK",
    )
    visit = floor.check_in(
        "petra", machine, "Bought it used in spring. Drips at the shaft when it runs.", ["suction hose"]
    )
    visit.photo("whole_unit_pump", "check_in", "The pump as it came in")
    visit.look_over({"mechanical_seal": "seal"})
    visit.find(
        "seal",
        "mechanical_seal",
        "leaks",
        "defect",
        "Carbon ring chipped at the joint line, faces without dry-running marks, water clean.",
    )
    visit.decide()
    visit.job("seal", "Replace mechanical seal", ["seal"], ["seal"], ["seal"])
    letter = visit.estimate()
    visit.customer_on_the_telephone(letter["id"], world.CUSTOMERS["petra"].phone)
    till.take_deposit(visit, "40.00", "cash")
    visit.repair("seal", 66, "Fitted a new seal, ran the pump on the tank for ten minutes: dry.")
    visit.finish()
    visit.made_safe("Seal replaced, dry after ten minutes.")
    invoice = visit.invoice("")
    till.pay(floor, invoice, "20.00", "cash")
    till.pay(floor, invoice, str(till.left(floor, invoice)), "transfer")
    visit.give_back()
    return visit.order["id"]


def generator_that_leaks_oil(floor: Floor) -> str:
    """Covered by the maker, approved before work: the claim, its letter and the part's tag speak the distributor's Spanish, in metric."""
    machine = Machine(
        "generator", "03512", bought=months_ago(5), label_hours=250, emission_family="TQMX.2120LM", meter=True,
        hours="31.6",
    )  # fmt: skip
    visit = floor.check_in("yrsa", machine, "Stops after ten minutes and leaves oil on the floor. Topped up twice.", [])
    visit.photo("serial_plate", "serial_plate", "Serial plate")
    visit.photo("hour_meter", "hour_meter", "Hour meter", hours="31.6")
    bought = machine.bought(floor.today()) if machine.bought else None
    text = {"shop": "Millbrook Garden Machines", "date": f"{bought:%d %b %Y}", "number": "41902", "item": "QM-3500 Lamp",
            "serial": visit.serial, "total": "$649.00"}  # fmt: skip
    visit.proof("receipt", receipt_pdf(text), "receipt.pdf", bought)
    visit.look_over({"gasket": "gasket"})
    visit.find(
        "gasket", "gasket", "leaks", "defect",
        "Pinched when the engine was put together: no gasket on this much of the joint. Faces flat, bolts tight.",
        of_engine=True, measured="0.75", measured_unit="in",
    )  # fmt: skip
    visit.photo("oil_leak", "before", "Oil runs from the crankcase joint", "gasket", marks=("circle 50 56 72 56",))
    decisions = visit.decide()
    visit.job("gasket", "Replace crankcase gasket", ["gasket"], ["gasket"], [("gasket", "1", True)])
    visit.charge_warranty("gasket", decisions["gasket"])
    letter = visit.estimate()
    visit.customer_answers(letter["link"], if_refused={"gasket": {"choice": "ask_me"}})
    visit.repair("gasket", 76, "Fitted a new crankcase gasket, filled with oil, ran it under load: dry.")
    visit.photo("new_part", "after", "The new gasket", "gasket", part="Crankcase gasket", number="QM-35-2204")
    visit.finish()
    visit.tag_failed_parts(visit.claim("gasket", approval="SR-20417"))
    visit.give_back()
    return visit.order["id"]


def blower_with_a_chain_of_causes(floor: Floor) -> str:
    """A lost deflector burns the cover, the cover lets the cable melt: the root decides."""
    machine = Machine(
        "backpack", "001588", "commercial", bought=months_ago(8), label_hours=300, emission_family="SKLX.0633EF"
    )
    visit = floor.check_in("crew", machine, "Smells burnt, throttle sticks.", ["tube set"])
    visit.photo("missing_deflector", "check_in", "Exhaust opening without its deflector")
    visit.look_over({"exhaust_deflector": "deflector", "engine_cover": "cover", "throttle_cable": "cable"})
    visit.find(
        "deflector",
        "exhaust_deflector",
        "missing",
        "upkeep",
        "Both screws gone, threads worn bright: it was loose for long.",
    )
    visit.find(
        "cover", "engine_cover", "melted", "environment", "Melted where the exhaust now blows.", because="deflector"
    )
    visit.find(
        "cable", "throttle_cable", "melted", "environment", "Sheath melted where it passes the cover.", because="cover"
    )
    visit.photo("burnt_engine_cover", "before", "Cover melted by the exhaust", "cover")
    visit.decide()
    visit.job(
        "all",
        "Deflector, engine cover and throttle cable",
        ["deflector", "cover", "cable"],
        ["deflector", "engine_cover", "cable"],
        ["deflector", "cover", "cable"],
    )
    first = visit.estimate()
    # The crew asks for the season service as well: version 2 replaces version 1.
    visit.job("season", "Season service", [], ["season"], ["air_filter", "plug"])
    second = visit.estimate()
    assert first["link"] != second["link"]
    visit.customer_answers(second["link"])
    visit.repair("all", 75, "Fitted deflector, cover and cable; screws secured, throttle runs free.")
    visit.repair("season", 44, "Cleaned, new filter and plug, adjusted, run hot.")
    visit.finish()
    visit.made_safe("Deflector fitted and secured, exhaust points away, throttle returns by itself.")
    invoice = visit.invoice("")
    till.pay(floor, invoice, "100.00", "check", "No. 2231")
    visit.give_back()
    return visit.order["id"]


def season_service(floor: Floor) -> str:
    """Straight from the request: no finding, no claim, an invoice the same day."""
    machine = Machine("saw", "000077", bought=days_ago(700), label_hours=125, emission_family="RKLX.0456AB")
    visit = floor.check_in("noor", machine, "Season service and a sharp chain, please.", [])
    visit.look_over({})
    visit.job("season", "Season service", [], ["season", "sharpen"], ["air_filter", "plug", "chain"])
    letter = visit.estimate()
    visit.customer_signs(letter["id"])
    visit.repair("season", 52, "Cleaned, new filter, plug and chain, adjusted; runs well.")
    visit.finish()
    visit.invoice("cash")
    visit.give_back()
    return visit.order["id"]


def trimmer_that_leaks_fuel(floor: Floor) -> str:
    """Unsafe to run: held and tagged until it is mended and the note is signed. The line is covered for a commercial user too."""
    machine = Machine(
        "trimmer", "002290", "commercial", bought=months_ago(15), label_hours=125, emission_family="RKLX.0254CD"
    )
    visit = floor.check_in("crew", machine, "Smells of petrol in the trailer.", [])
    visit.photo("serial_plate", "serial_plate", "Serial plate")
    visit.photo("emission_label", "label", "Emission label", hours="125", family="RKLX.0254CD")
    visit.look_over({"fuel_line": "line"})
    visit.find(
        "line", "fuel_line", "split", "defect", "Two-material line split where it meets the tank grommet; drips when squeezed.",
        of_engine=True, unsafe=True,
    )  # fmt: skip
    visit.photo("cracked_fuel_line", "before", "Split at the tank grommet", "line")
    decisions = visit.decide()
    visit.job(
        "line", "Replace fuel line", ["line"], ["line"], [("line", "1", True)],
        why_now="Petrol drips where the line meets the tank, beside a hot muffler.",
        if_not="It may catch fire. The machine stays tagged and must not be run.",
    )  # fmt: skip
    visit.charge_warranty("line", decisions["line"])
    letter = visit.estimate()
    visit.customer_answers(letter["link"], if_refused={"line": {"choice": "return_unrepaired"}})
    visit.repair("line", 34, "Fitted the one-piece line, tested the tank for leaks.")
    visit.photo("fuel_line_new", "after", "One-piece line, dry after an hour", "line")
    visit.finish()
    visit.made_safe("Line replaced, no leak under pressure for ten minutes.")
    visit.claim("line")
    visit.give_back()
    till.send_statement(visit, "customer", visit.order["customer"]["id"])
    return visit.order["id"]


Story = Callable[[Floor], str]
MONTH: tuple[tuple[int, Story], ...] = (
    (30, saw_that_will_not_start),
    (20, trimmer_out_by_a_day),
    (19, rental_blower_past_ninety_days),
    (12, mower_that_hit_a_stump),
    (10, generator_with_unknown_facts),
    (8, pump_of_a_second_owner),
    (7, generator_that_leaks_oil),
    (6, blower_with_a_chain_of_causes),
    (4, season_service),
    (2, trimmer_that_leaks_fuel),
)
"""Days before today, and what comes in that day."""


def tells(story: Story) -> str:
    """The story in one line: the first line of what is written above it."""
    return (story.__doc__ or "").strip().splitlines()[0]


__all__ = ["MONTH", "Visit", "tells", "world"]
