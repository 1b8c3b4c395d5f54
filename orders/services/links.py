"""The customer's link: a secret that stands in the letter only; we keep its SHA-256 and take one answer with it."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from orders.models import AnswerLink, Estimate
from shopdocs.documents.models import Letter, Photo, StoredFile
from shopdocs.documents.press.words import Words, first_spoken, words
from shopdocs.rest.refusals import Conflict, Missing, Refused, Told


def spoken_at(token: str, accepted: str = "") -> Words:
    """Says our words in the language that `language_at` finds."""
    return words(language_at(token, accepted))


def language_at(token: str, accepted: str = "") -> str:
    """The language of the estimate behind the link: the one that the customer reads.

    Behind a link that is not known there is none. Then it is the first language of ours in `accepted` (a header
    Accept-Language), else English.
    """
    if (link := _behind(token)) is not None:
        language: str = link.estimate.facts["shop"]["language"]
        return language
    return first_spoken(accepted)


def token_digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def make_link(estimate: Estimate) -> tuple[AnswerLink, str]:
    """A new link and its address; links of the estimate's order that were not used stop working.

    It ends with a day at the shop, as the estimate does: its last one, or ANSWER_LINK_DAYS after today if that is sooner.
    """
    shop, now = estimate.shop, timezone.now()
    older = AnswerLink.objects.for_shop(shop).filter(estimate__order=estimate.order_id, used_at=None)
    older.filter(expires_at__gt=now).update(expires_at=now)
    last = min(estimate.valid_until, shop.local(now).date() + dt.timedelta(days=settings.ANSWER_LINK_DAYS))
    token = secrets.token_urlsafe(32)
    link: AnswerLink = AnswerLink.objects.create(
        shop=shop,
        estimate=estimate,
        token_sha256=token_digest(token),
        expires_at=dt.datetime.combine(last + dt.timedelta(days=1), dt.time(), tzinfo=shop.zone),
    )
    return link, f"{settings.PUBLIC_URL}/api/v1/answer/{token}/"


def _behind(token: str) -> AnswerLink | None:
    """The link of this secret, if there is one.

    The query does not begin at a shop: the secret itself says which one. So it is with the address that a paper's code holds
    (`shopdocs/documents/api/opened.py`), and with nothing else.
    """
    rows = AnswerLink._default_manager.select_related("shop", "estimate__shop", "estimate__order")
    found: AnswerLink | None = rows.filter(token_sha256=token_digest(token)).first()
    return found


def link_of(token: str) -> AnswerLink:
    """The link of this secret. Missing when there is none: the answer tells nothing about any estimate."""
    if (link := _behind(token)) is None:
        raise Missing(
            "token",
            "This link is not known.",
            "Copy it whole out of the letter. Ask the shop to send the estimate again.",
        )
    return link


def refuse_dead(link: AnswerLink) -> None:
    """Conflict for a link whose estimate was replaced, or that has run out, used or not."""
    refuse_replaced(link)
    if link.expires_at <= timezone.now():
        remedy = "Open the link in the newest letter. Ask the shop to send the estimate again."
        raise Conflict("token", "This link has expired.", remedy)


def refuse_replaced(link: AnswerLink) -> None:
    """Conflict for a link whose estimate was replaced, with what became of the newer version."""
    if link.estimate.replaced_by_id is not None:
        newest = Estimate.objects.for_shop(link.shop).filter(order=link.estimate.order_id).latest("edition")
        if newest.letter is None:
            problem = (
                "The shop has made a newer version of this estimate, version {edition}, and has not sent it yet; this one "
                "cannot be answered any more."
            )
            remedy = "Wait for its letter and open the link in it, or call the shop."
        elif newest.letter.state == Letter.State.DONE:
            problem = "The shop has sent a newer version of this estimate, version {edition}."
            remedy = "Open the link in its letter. Ask the shop to send the estimate again."
        else:
            problem = "The shop is sending a newer version of this estimate, version {edition}."
            remedy = "Wait for its letter and open the link in it."
        raise Conflict("token", Told(problem, edition=newest.edition), remedy)


@transaction.atomic
def open_link(*, token: str) -> AnswerLink:
    """What the customer's link leads to; notes when it was first opened."""
    link = link_of(token)
    refuse_dead(link)
    if link.opened_at is None:
        now = timezone.now()
        AnswerLink.objects.for_shop(link.shop).filter(pk=link.pk, opened_at=None).update(opened_at=now)
        link.opened_at = now
    return link


def answerable(token: str) -> AnswerLink | None:
    """The link of this secret while it can still be answered, else None."""
    link = _behind(token)
    if link is None or link.used_at is not None:
        return None
    try:
        refuse_dead(link)
    except Refused:
        return None
    return link


def photo_behind(*, token: str, sha256: str) -> StoredFile | None:
    """The printable copy of a photo that stands on the link's estimate. Missing for any other, whatever the shop has."""
    link = link_of(token)
    refuse_dead(link)
    shown = {photo["sha256"] for job in link.estimate.facts["jobs"] for photo in job.get("photos", ())}
    if sha256 not in shown:
        raise Missing("sha256", "This photo is not on the estimate.", "Use an address out of the estimate.")
    photo = Photo.objects.for_shop(link.shop).filter(original__sha256=sha256).select_related("printable").first()
    return photo.printable if photo is not None else None
