"""Papers of this room: the request to draw them, each from a sheet that is frozen with the request.

Estimate and invoice are built from their frozen facts alone. The repair order is a picture of the records at the
moment it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from uuid import UUID

from django.db import transaction

from orders.models import Estimate, Invoice, RepairOrder
from shopdocs.documents.models import Document
from shopdocs.documents.press.sheets import Sheet, to_json
from shopdocs.documents.press.words import words
from shopdocs.documents.services.papers import request_document
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from .changes import change_sheet
from .condition import condition_report_sheet
from .order_papers import bench_copy_sheet, repair_summary_sheet
from .order_sheet import repair_order_sheet
from .records import given_in_address
from .sheets import estimate_sheet, invoice_sheet
from .signatures import use_signature
from .signed_copies import signed_on_paper


def request_estimate_paper(*, estimate: Estimate, by: Staff) -> Document:
    """Asks for the paper of one version: the same facts give the same sheet, and that the same bytes."""
    return request_document(
        shop=estimate.shop,
        kind="estimate",
        subject=estimate.subject,
        number=f"{estimate.number}-{estimate.edition}",
        title=f"Estimate {estimate.number}, version {estimate.edition}",
        sheet=to_json(estimate_sheet(estimate.facts)),
        by=by,
    )


def request_change_paper(*, before: Estimate, estimate: Estimate, by: Staff) -> Document:
    """Asks for the paper that says what a version changes against the one that it replaces."""
    return request_document(
        shop=estimate.shop,
        kind="estimate_change",
        subject=estimate.subject,
        number=f"{estimate.number}-{estimate.edition}",
        title=f"Change to estimate {estimate.number}, version {estimate.edition}",
        sheet=to_json(change_sheet(before.facts, estimate.facts)),
        by=by,
    )


def request_invoice_paper(*, invoice: Invoice, by: Staff) -> Document:
    """Asks for the paper of an invoice."""
    return request_document(
        shop=invoice.shop,
        kind="invoice",
        subject=invoice.subject,
        number=invoice.number,
        title=f"Invoice {invoice.number}",
        sheet=to_json(invoice_sheet(invoice.facts)),
        by=by,
    )


SHEETS: dict[str, tuple[str, Callable[[RepairOrder], Sheet]]] = {
    "repair_order": ("Repair order", repair_order_sheet),
    "bench_copy": ("Bench copy", bench_copy_sheet),
    "repair_summary": ("Repair summary", repair_summary_sheet),
    "condition_report": ("Condition report", condition_report_sheet),
}


@transaction.atomic
def request_order_paper(
    *, shop: Shop, by: Staff, order_id: UUID, paper: str = "repair_order", signature: UUID | None = None
) -> Document:
    """Asks for a paper of the order as it stands now; each request is a paper of its own. `paper`: a key of SHEETS.

    With `signature` (of the repair order only) the paper is the signed copy, and the signature is used up.
    """
    order = given_in_address(RepairOrder, shop=shop, pk=order_id)
    if signature is not None:
        return _signed_order(order, by, paper, signature)
    if paper not in SHEETS:
        raise Refused("paper", f"'{paper}' is no paper of a repair order.", f"Choose one of {', '.join(SHEETS)}.")
    title, make = SHEETS[paper]
    document = request_document(
        shop=shop,
        kind=paper,
        subject=order.subject,
        number=order.number,
        title=f"{title} {order.number}",
        sheet=to_json(make(order)),
        by=by,
    )
    record_event(shop=shop, subject=order.subject, verb="paper asked for", words=document.title, by=by)
    return document


def _signed_order(order: RepairOrder, by: Staff, paper: str, pk: UUID) -> Document:
    if paper != "repair_order":
        raise Refused("signature", "Only the repair order is signed.", "Leave it out, or ask for the repair order.")
    signature = use_signature(order=order, pk=pk, used_for=order.subject, shown_at=order.created_at)
    sheet = repair_order_sheet(order)
    signed = signed_on_paper(order.shop, signature, words(sheet.language))
    document = request_document(
        shop=order.shop,
        kind="repair_order_signed",
        subject=order.subject,
        number=order.number,
        title=f"Repair order {order.number}, signed",
        sheet=to_json(replace(sheet, signed=signed)),
        by=by,
    )
    told = f"by {signature.signed_name}"
    record_event(shop=order.shop, subject=order.subject, verb="repair order signed", words=told, by=by)
    return document


def request_repair_order_paper(*, shop: Shop, by: Staff, order_id: UUID) -> Document:
    """Asks for the repair order as it stands now."""
    return request_order_paper(shop=shop, by=by, order_id=order_id)
