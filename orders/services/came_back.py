"""What of a part line came back: its returns as facts, what is still charged of it, and what a later agreement leaves of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from orders.models import JobPart
from orders.models.jobs import JobFee
from orders.rules.parts import cores_back, left_of
from orders.rules.pricing import Returned
from shopdocs.documents.press.words import Say
from shopdocs.money import plain

Facts = dict[str, Any]
CORE, PART = "core", "part"
NOTHING = Decimal(0)


def returned_facts(part: JobPart, fees: Iterable[JobFee], say: Say) -> list[Facts]:
    """The returns of a part line among the fees of its job, in the order in which they came."""
    rows = [row for row in fees if row.returned_id == part.pk]
    return [
        {"id": str(row.pk), "what": row.kind, "quantity": plain(_pieces(row)), "words": _words(row, part, say)}
        for row in sorted(rows, key=lambda row: (row.created_at, str(row.pk)))
    ]


def _pieces(row: JobFee) -> Decimal:
    return row.returned_quantity or NOTHING


def _words(row: JobFee, part: JobPart, say: Say) -> str:
    told = (
        say("{count} of {quantity} returned unused")
        if row.kind == PART
        else say("{count} of {quantity} old cores back")
    )
    return told.format(count=plain(_pieces(row)), quantity=plain(part.quantity))


def still_charged(part: JobPart, fees: Iterable[JobFee]) -> tuple[Decimal, Decimal]:
    """The pieces, and the core charges, of a line that did not come back."""
    rows = [row for row in fees if row.returned_id == part.pk]
    return left_of(part.quantity, [(row.kind == PART, _pieces(row)) for row in rows])


def charged_in(line: Facts) -> tuple[Decimal, Decimal]:
    """The same of a frozen line."""
    return left_of(Decimal(line["quantity"]), _rows(line))


def _rows(line: Facts) -> list[tuple[bool, Decimal]]:
    return [(one["what"] == PART, Decimal(one["quantity"])) for one in line.get("returned") or ()]


def parts_and_cores(line: Facts) -> tuple[tuple[Returned, ...], tuple[Returned, ...]]:
    """The returns of a frozen line as pricing takes them: pieces, and core charges that come off."""
    listed = line.get("returned") or ()
    cores = cores_back(Decimal(line["quantity"]), _rows(line))
    return (
        tuple(Returned(one["words"], Decimal(one["quantity"])) for one in listed if one["what"] == PART),
        tuple(Returned(one["words"], count) for one, count in zip(listed, cores, strict=True) if count),
    )


def returns_since(agreed: Facts, now: Sequence[Facts], more: Decimal) -> list[Facts]:
    """The agreed returns and those that came since; `more` pieces than were agreed to are not billed, and take none off."""
    known = {one["id"] for one in agreed.get("returned") or ()}
    found = [*(agreed.get("returned") or ())]
    for one in (row for row in now if row["id"] not in known):
        count = Decimal(one["quantity"])
        if one["what"] == PART:
            spared = min(more, count)
            more, count = more - spared, count - spared
        if count:
            found.append({**one, "quantity": plain(count)})
    return found
