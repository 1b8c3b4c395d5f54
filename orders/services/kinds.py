"""Registers the papers of this room: frozen JSON and pictures in, PDF out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from orders.papers import (
    bench_copy,
    condition_report,
    credit_note,
    estimate,
    estimate_change,
    invoice,
    repair_order,
    repair_summary,
    statement,
)
from shopdocs.documents.kinds import Drawn, Kind, register
from shopdocs.documents.press.sheets import from_json

Sheet = dict[str, Any]


def _drawn_by(module: Any, sheet_class: type) -> Callable[[Sheet, Mapping[str, bytes]], Drawn]:
    """Frozen JSON to PDF by the paper's own module; `from_json` refuses a sheet that is not of its class."""

    def draw(sheet: Sheet, pictures: Mapping[str, bytes]) -> Drawn:
        drawn: Drawn = module.draw(from_json(sheet_class, sheet), pictures)
        return drawn

    return draw


def photos_on(sheet: Sheet) -> Sequence[str]:
    """SHA-256 of the originals whose printable copies the paper shows, and of the signatures on it."""
    signatures = [one["signed"] for one in (sheet, *sheet.get("given", [])) if one.get("signed")]
    signatures += [job["safety_signed"] for job in sheet.get("jobs", []) if job.get("safety_signed")]
    of_jobs = [photo for job in sheet.get("jobs", []) for photo in job.get("photos", [])]
    return [shown["sha256"] for shown in (*sheet.get("photos", []), *of_jobs, *signatures)]


CLASSES: tuple[tuple[str, str, Any, type], ...] = (
    ("repair_order", "Repair order", repair_order, repair_order.RepairOrderSheet),
    ("repair_order_signed", "Signed repair order", repair_order, repair_order.RepairOrderSheet),
    ("estimate", "Estimate", estimate, estimate.EstimateSheet),
    ("estimate_answered", "Answered estimate", estimate, estimate.EstimateSheet),
    ("invoice", "Invoice", invoice, invoice.InvoiceSheet),
    ("bench_copy", "Bench copy", bench_copy, bench_copy.BenchCopySheet),
    ("repair_summary", "Repair summary", repair_summary, repair_summary.RepairSummarySheet),
    ("estimate_change", "Change to an estimate", estimate_change, estimate_change.EstimateChangeSheet),
    ("credit_note", "Credit note", credit_note, credit_note.CreditNoteSheet),
    ("statement", "Statement", statement, statement.StatementSheet),
    ("condition_report", "Condition report", condition_report, condition_report.ConditionReportSheet),
)
OVERVIEWS = ("repair_order", "repair_order_signed", "estimate", "estimate_answered")
PAPERS = tuple(
    Kind(name, title, _drawn_by(module, of), photos_on, small=name in OVERVIEWS) for name, title, module, of in CLASSES
)


def register_papers() -> None:
    """Called once when the app is ready."""
    for kind in PAPERS:
        register(kind)
