"""Which facts may be recorded as circumstances, in which words: each is read strictly, by the engine's own vocabulary."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from orders.rules import trade
from shopdocs.rest.refusals import Problem
from warranty.coverage import vocabulary as v

MOST_CODES = 50
MOST_REPAIRS = 100
MOST_MONTHS = 1200
MOST_FIGURE = Decimal(1_000_000)
OF_MACHINE = "unit"
Read = Callable[[Any, str], Any]


class Wrong(Exception):
    """One value that cannot be recorded: path, problem, remedy."""

    def __init__(self, path: str, problem: str, remedy: str) -> None:
        self.problem = Problem(path, problem, remedy)
        super().__init__(f"{path}: {problem}")


def _word(choices: Collection[str]) -> Read:
    def read(value: Any, path: str) -> str:
        if not isinstance(value, str) or value not in choices:
            raise Wrong(path, f"'{str(value)[:40]}' is no word of this fact.", f"Choose one of: {', '.join(choices)}.")
        return value

    return read


def _flag(value: Any, path: str) -> bool:
    if not isinstance(value, bool):
        raise Wrong(path, "This is neither true nor false.", "Send true or false; null while it is not known.")
    return value


def _figure(value: Any, path: str) -> str:
    try:
        found = Decimal("NaN") if isinstance(value, bool | float) else Decimal(str(value))
    except InvalidOperation:
        found = Decimal("NaN")
    fine = found.is_finite() and 0 <= found <= MOST_FIGURE and int(found.as_tuple().exponent) >= -3
    if not fine:
        raise Wrong(
            path, "This is no number from 0 to a million with at most 3 decimals.", "Send a number such as '120.5'."
        )
    return format(found, "f")


def _day(value: Any, path: str) -> str:
    try:
        return (value if type(value) is dt.date else dt.date.fromisoformat(value)).isoformat()
    except (TypeError, ValueError):
        raise Wrong(path, "This is no date.", "Send a date such as 2026-03-31.") from None


def _codes(value: Any, path: str) -> list[str]:
    if not isinstance(value, list | tuple) or len(value) > MOST_CODES:
        raise Wrong(
            path, f"This is no list of at most {MOST_CODES} codes.", "Send the codes in a list; [] when there is none."
        )
    for at, code in enumerate(value):
        if not isinstance(code, str) or not code.strip() or len(code) > 80 or not code.isprintable():
            raise Wrong(f"{path}[{at}]", "This is no code.", "Send a line of at most 80 characters.")
    return sorted({code.strip() for code in value})


def _component(code: Any, path: str) -> str:
    try:
        return trade.component(str(code)).code
    except trade.UnknownCode as error:
        words = str(error)
        raise Wrong(path, f"{words[:1].upper()}{words[1:]}.", "Use the code of a component.") from error


def _mapping(value: Any, path: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise Wrong(path, "This is no object.", "Send names with values.")
    return value


def _schedule(value: Any, path: str) -> dict[str, list[Any]]:
    """Component -> [months, hours] of its first scheduled replacement; either may be null."""
    found: dict[str, list[Any]] = {}
    for code, row in _mapping(value, path).items():
        here = f"{path}.{str(code)[:60]}"
        _component(code, here)
        due = _mapping(row, here)
        unknown = sorted(set(due) - {"months", "hours"})
        if unknown:
            raise Wrong(f"{here}.{str(unknown[0])[:60]}", "This is not known here.", "Send months and hours.")
        months, hours = due.get("months"), due.get("hours")
        if months is not None and (
            isinstance(months, bool) or not isinstance(months, int) or not 0 <= months <= MOST_MONTHS
        ):
            raise Wrong(
                f"{here}.months", "This is no number of months.", f"Send a whole number from 0 to {MOST_MONTHS}."
            )
        if months is None and hours is None:
            raise Wrong(here, "Neither months nor hours are said.", "Say at least one, or leave the component out.")
        found[code] = [months, None if hours is None else _figure(hours, f"{here}.hours")]
    return found


def _repairs(value: Any, path: str) -> list[dict[str, Any]]:
    """Earlier repairs done elsewhere, as the engine's own records of repairs."""
    if not isinstance(value, list | tuple) or len(value) > MOST_REPAIRS:
        raise Wrong(path, f"This is no list of at most {MOST_REPAIRS} repairs.", "Send a list; [] when there was none.")
    return [_repair(row, f"{path}[{at}]") for at, row in enumerate(value)]


def _line(value: Any, path: str) -> str:
    if not isinstance(value, str) or len(value) > 200 or not all(character.isprintable() for character in value):
        raise Wrong(path, "This is no line of text.", "Send one line of at most 200 characters.")
    return value.strip()


REPAIR: dict[str, Read] = {
    "day": _day, "done_by": _word(v.DONE_BY), "hours": _figure, "new_part": _flag,
    "under": _line, "part_maker": _line,
}  # fmt: skip


def _repair(row: Any, path: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in _mapping(row, path).items():
        if name == "components":
            if not isinstance(value, list | tuple) or not value or len(value) > MOST_CODES:
                raise Wrong(f"{path}.components", "No component is named.", "Send a list of component codes.")
            found[name] = [_component(code, f"{path}.components[{at}]") for at, code in enumerate(value)]
        elif name not in REPAIR:
            raise Wrong(
                f"{path}.{str(name)[:60]}", "This is not known here.", f"Send: components, {', '.join(REPAIR)}."
            )
        elif value is not None:
            found[name] = REPAIR[name](value, f"{path}.{name}")
    for needed in ("day", "components"):
        if needed not in found:
            raise Wrong(f"{path}.{needed}", "This is missing.", "Say when it was done, and on which components.")
    return found


OWN_REPAIR = {name: REPAIR[name] for name in ("under", "part_maker", "new_part", "hours")}


def _own_repairs(value: Any, path: str) -> dict[str, dict[str, Any]]:
    """What this shop's own orders do not tell of its repairs, by the id of the job."""
    found: dict[str, dict[str, Any]] = {}
    for job, row in _mapping(value, path).items():
        here = f"{path}.{str(job)[:60]}"
        told = found.setdefault(str(job), {})
        for name, one in _mapping(row, here).items():
            if name not in OWN_REPAIR:
                raise Wrong(f"{here}.{str(name)[:60]}", "This is not known here.", f"Send: {', '.join(OWN_REPAIR)}.")
            if one is not None:
                told[str(name)] = OWN_REPAIR[name](one, f"{here}.{name}")
    return found


UNIT: dict[str, Read] = {
    "fuel": _word(v.FUELS), "serviced_by": _word(v.SERVICED_BY), "other_parts": _flag, "manual_forbids_fuel": _flag,
    "proper_fuel_at_hand": _flag, "emergency_repair": _flag, "severe_service": _flag, "hours_limit_invoked": _flag, "transfer_registered": _flag,
    "registered": _flag, "no_proof_can_be_had": _flag, "replacement_schedule": _schedule, "plans": _codes,
    "campaigns_done": _codes, "miles_to_centre": _figure, "first_sold_on": _day, "first_sale_kind": _word(v.SALE_KINDS),
    "repairs_elsewhere": _repairs, "own_repairs": _own_repairs,
}  # fmt: skip
UPKEEP = "upkeep"
FINDING: dict[str, Read] = {
    "done_by": _word(v.DONE_BY), "upkeep_item": _word(v.UPKEEP_ITEMS), "never_opened": _flag, "stands_alone": _flag,
    "belongs_to": _word((OF_MACHINE,)),
}  # fmt: skip


def upkeep(value: Any, path: str) -> dict[str, bool | None]:
    """Items of upkeep, each done as the manual asks or not; null: not known."""
    found: dict[str, bool | None] = {}
    for item, done in _mapping(value, path).items():
        here = f"{path}.{str(item)[:60]}"
        _word(v.UPKEEP_ITEMS)(item, here)
        found[str(item)] = None if done is None else _flag(done, here)
    return found
