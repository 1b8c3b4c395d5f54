"""Lines that estimate and invoice share: labour, parts, taxes, and how a job's tables are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures, apart

LABOUR = (
    Column("Code", 58),
    Column("Labour", 0),
    Column("Hours", 36, "right"),
    Column("Rate", 40, "decimal"),
    Column("Amount", 50, "right"),
)
PARTS = (
    Column("Part", 58),
    Column("Description", 0),
    Column("Quantity", 36, "decimal"),
    Column("Each", 40, "decimal"),
    Column("Amount", 50, "right"),
)


@dataclass(frozen=True, kw_only=True)
class LabourLine:
    """A labour operation: guide time in tenths of an hour, price per hour, amount. `note` explains shared steps."""

    code: str
    what: str
    tenths: int
    rate: Decimal
    amount: Decimal
    note: str


@dataclass(frozen=True, kw_only=True)
class PartLine:
    """A part: condition is 'new', 'used', 'rebuilt' and the like."""

    number: str
    what: str
    condition: str
    quantity: Decimal
    each: Decimal
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class TaxLine:
    """One tax by its name; percent 7.25 means 7.25 %. `base` is the sum it was taken from."""

    name: str
    percent: Decimal
    base: Decimal
    amount: Decimal


def job_tables(
    flow: Flow, figures: Figures, labour: tuple[LabourLine, ...], parts: tuple[PartLine, ...], tail: float
) -> None:
    """The labour and the parts of one job. `tail`: points kept below the last row for the job's sum."""
    flow.y -= 4
    Table(flow, LABOUR).draw(
        [
            Row(
                (line.code, line.what, figures.tenths(line.tenths), figures.rate(line.rate), figures.bare(line.amount)),
                line.note,
            )
            for line in labour
        ],
        tail=0 if parts else tail,
    )
    if labour and parts:
        flow.y -= 6
    Table(flow, PARTS).draw(
        [
            Row(
                (
                    line.number,
                    line.what,
                    figures.number(line.quantity),
                    figures.rate(line.each),
                    figures.bare(line.amount),
                ),
                line.condition,
            )
            for line in parts
        ],
        tail=tail,
    )
    flow.y -= 2


def tax_rows(flow: Flow, figures: Figures, taxes: tuple[TaxLine, ...]) -> list[tuple[str, str, bool]]:
    """Taxes as sums: name, rate, what they were taken from, amount."""
    of = flow.say("of")
    return [
        (
            f"{apart(tax.name)}, {figures.percent(tax.percent)} {of} {figures.money(tax.base)}",
            figures.money(tax.amount),
            False,
        )
        for tax in taxes
    ]
