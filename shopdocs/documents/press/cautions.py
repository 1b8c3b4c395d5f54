"""Cautions in plain words, by code. A sheet lists the codes; the words are ours.

They are the usual ones of the trade and replace no manual: each paper that carries cautions ends
them with `DEFER`. Carbon monoxide follows the sense of the generator label (16 CFR 1407): never
indoors, even with doors and windows open. The rest: common practice, no source.
"""

from __future__ import annotations

from shopdocs.documents.press.errors import PressError

CAUTIONS: dict[str, tuple[str, str]] = {
    "fuel": (
        "Fuel",
        "Fuel vapour and leaking gas burn at a spark. Fill and drain outdoors, engine off and cold, away from flame, "
        "heater and switch. Wipe up spills and let them dry before starting.",
    ),
    "exhaust": (
        "Exhaust gas",
        "Exhaust holds carbon monoxide, which you cannot see or smell and which kills in minutes. Run engines only "
        "outdoors, far from windows, doors and vents; never in a house or garage, even with doors and windows open.",
    ),
    "backfeed": (
        "Generator and house wiring",
        "Never plug a generator into a house socket: current flows back into the line and can kill you, a neighbour or "
        "a line worker. A connection to a building needs a transfer switch fitted by a licensed electrician.",
    ),
    "ignition": (
        "Ignition voltage",
        "The plug lead carries many thousand volts. Do not touch lead or plug while the engine turns, and test for "
        "spark only with a tester clipped to bare metal, away from fuel.",
    ),
    "blades": (
        "Blades",
        "Stop the engine, wait until the blade stands still, and take off the plug lead or take out the battery before you reach "
        "near a blade. Wear cut-proof gloves.",
    ),
    "raised": (
        "Raised mower",
        "A mower that slips crushes. Lift it on level, firm ground, with wheels blocked and blades still, and hold it by stands; "
        "never work under one that hangs on a jack or a hoist alone.",
    ),
    "kickback": (
        "Chain kickback",
        "The tip of a running bar can throw the saw back at you. Hold it with both hands, keep the chain brake working "
        "and the chain sharp, and do not cut with the tip. Wear leg, eye, ear and head protection.",
    ),
    "spring": (
        "Starter spring",
        "The recoil spring stores force and can jump out when the starter is opened. Wear eye protection; leave "
        "the spring in its housing unless you have the tool and the training.",
    ),
    "muffler": (
        "Hot muffler",
        "Muffler and cylinder stay hot for long after a run and can burn skin or set dry grass alight. Let them cool; "
        "keep the spark arrester in place and clean.",
    ),
    "battery": (
        "Battery pack",
        "Do not use, charge or open a pack that is swollen, wet, dented or hot. Charge it with its own charger, on a surface that "
        "cannot burn, and take it out before you touch the cutting tool.",
    ),
    "noise": (
        "Noise",
        "Many of these machines are loud enough to harm hearing, some within an hour. Wear hearing protection, "
        "also beside the machine.",
    ),
}
DEFER = (
    "These are reminders, not instructions. The maker's manual, local codes and, for wiring, gas and lifting, a person "
    "licensed for the work come first."
)


def caution(code: str) -> tuple[str, str]:
    """Heading and text of a caution, in English. Raises PressError for a code that is not ours."""
    if code not in CAUTIONS:
        raise PressError(f"cautions: {code!r} is not known; choose from {', '.join(CAUTIONS)}")
    return CAUTIONS[code]
