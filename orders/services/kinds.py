"""Registers the papers of this room: frozen JSON and pictures in, PDF out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from orders.papers import estimate, invoice, repair_order
from shopdocs.documents.kinds import Drawn, Kind, register
from shopdocs.documents.press.sheets import from_json

Sheet = dict[str, Any]


def _draw_repair_order(sheet: Sheet, pictures: Mapping[str, bytes]) -> Drawn:
    return repair_order.draw(from_json(repair_order.RepairOrderSheet, sheet), pictures)


def _draw_estimate(sheet: Sheet, pictures: Mapping[str, bytes]) -> Drawn:
    return estimate.draw(from_json(estimate.EstimateSheet, sheet), pictures)


def _draw_invoice(sheet: Sheet, pictures: Mapping[str, bytes]) -> Drawn:
    return invoice.draw(from_json(invoice.InvoiceSheet, sheet), pictures)


def photos_on(sheet: Sheet) -> Sequence[str]:
    """SHA-256 of the originals whose printable copies the paper shows."""
    return [photo["sha256"] for photo in sheet.get("photos", [])]


PAPERS = (
    Kind("repair_order", "Repair order", _draw_repair_order, photos_on),
    Kind("estimate", "Estimate", _draw_estimate, photos_on),
    Kind("invoice", "Invoice", _draw_invoice, photos_on),
)


def register_papers() -> None:
    """Called once when the app is ready."""
    for kind in PAPERS:
        register(kind)
