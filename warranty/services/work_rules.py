"""Rules about work that orders does not know: what is never done to an emission control. Registered with orders' house rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from orders.models import Unit
from orders.rules import trade
from orders.rules.work import ACTIONS, Work
from shopdocs.rest.refusals import Problem
from warranty.coverage.operations import Refused, refused, told
from warranty.coverage.vocabulary import NO_ENGINE

REMEDY = (
    "Taking it off for a repair is allowed where it goes back in working order: say 'refit' (take off and put back), 'replace' or "
    "'repair', or say in the words that it was put back: 'catalyst removed, cleaned and refitted', 'spark screen removed for cleaning', "
    "'limiter caps removed, mixture set, caps refitted', 'asked to remove the catalyst; refused'. Say of what was found 'found gutted'."
)


def objections(unit: Unit | None, works: Sequence[Work]) -> Iterator[Problem]:
    """Why work is never to be written down; `unit` None stands for any unit that the catalogue is for."""
    for work in works:
        for one in _forbidden(work):
            if unit is None or _binds(one, unit):
                part = trade.component(one.component).name
                does = ACTIONS[one.action] if work.action else "take off for good or leave out"
                yield Problem(
                    work.field, f"'{does}' of the {part} is no repair: {one.says} [{one.source}].", REMEDY
                )  # fmt: skip


def _forbidden(work: Work) -> Iterator[Refused]:
    if work.action:
        for component in work.components:
            one = refused(work.action, component)
            if one is not None:
                yield one
    found = told(work.words) if work.words else None
    if found is not None:
        yield found


def _binds(one: Refused, unit: Unit) -> bool:
    """Whether the rule reaches this unit: never one without an engine, nor one whose label was read and shows no emission rule.

    A label that nobody has read frees nothing.
    """
    if unit.power_source in NO_ENGINE:
        return False
    if not one.of_the_label:
        return True
    engine = next((row for row in unit.assemblies.all() if row.role == "engine"), None)
    return engine is None or not engine.label_read or engine.emission_rule != "none"
