"""The copies that show what was answered and signed: files of their own, beside the estimate, which stays as it was sent."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import Any

from orders.models import Answer, Estimate, RefusalChoice, Signature
from orders.papers.estimate import AnswerGiven, EstimateSheet, SaidLine
from shopdocs.documents.models import Document
from shopdocs.documents.press.facts import Signed
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import moment_words
from shopdocs.documents.press.words import Say, words
from shopdocs.documents.services.papers import request_document, sheet_digest
from shopdocs.shops.models import Shop, Staff

from .sheets import estimate_sheet


def request_answered_copy(*, estimate: Estimate, by: Staff | None) -> Document:
    """Asks for the estimate's copy with every answer given to it so far."""
    return request_document(
        shop=estimate.shop,
        kind="estimate_answered",
        subject=estimate.subject,
        number=f"{estimate.number}-{estimate.edition}",
        title=f"Estimate {estimate.number}, version {estimate.edition}, as answered",
        sheet=to_json(answered_sheet(estimate)),
        by=by,
    )


def answered_sheet(estimate: Estimate) -> EstimateSheet:
    """The estimate's own sheet with the answers to it."""
    told = estimate_sheet(estimate.facts)
    say = words(told.language)
    rows = Answer.objects.for_shop(estimate.shop).filter(estimate=estimate)
    rows = rows.select_related("job", "signature__file").order_by("at", "channel", "said_by", "job__number")
    chosen = list(RefusalChoice.objects.for_shop(estimate.shop).filter(estimate=estimate).order_by("created_at", "id"))
    together = groupby(rows, key=lambda row: (row.at, row.channel, row.said_by))
    return replace(
        told,
        title=say("Answered estimate"),
        given=tuple(_given(estimate, list(group), chosen, say) for _, group in together),
        seen=sheet_digest(estimate.facts),
    )


def _given(estimate: Estimate, rows: list[Answer], chosen: list[RefusalChoice], say: Say) -> AnswerGiven:
    first, shop = rows[0], estimate.shop
    more = {row.job_id: row.agreed_words for row in chosen if row.at == first.at}
    consented = moment_words(shop.local(first.consented_at), say) if first.consented_at else ""
    consent = (estimate.facts.get("consent") or {}).get("words", "") if consented else ""
    return AnswerGiven(
        how=how_words(shop, first, say),
        who=first.said_by,
        when=moment_words(shop.local(first.at), say),
        remark=first.words,
        lines=tuple(
            SaidLine(
                job=row.job.number,
                said="accepted" if row.accepted else "declined",
                words=row.agreed_words,
                more=more.get(row.job_id, ""),
            )
            for row in rows
        ),
        consent=f"{say('Agreed on')} {consented}: {consent}" if consent else "",
        signed=signed_on_paper(shop, first.signature, say),
    )


def how_words(shop: Shop, row: Any, say: Say) -> str:
    """'by telephone 555-0133, 9 Nov 2026, 10:12, read back', and the like, of a `Given`."""
    if row.channel == Answer.Channel.PHONE:
        called = moment_words(shop.local(row.called_at), say) if row.called_at else ""
        back = say("read back") if row.read_back else ""
        return ", ".join(part for part in (f"{say('by telephone')} {row.phone_number}".strip(), called, back) if part)
    return say("by the link in our letter") if row.channel == Answer.Channel.LINK else say("here in the shop")


def signed_on_paper(shop: Shop, signature: Signature | None, say: Say) -> Signed | None:
    """A drawn signature as papers show it."""
    if signature is None:
        return None
    return Signed(
        sha256=signature.file.sha256,
        name=signature.signed_name,
        when=moment_words(shop.local(signature.created_at), say),
    )
