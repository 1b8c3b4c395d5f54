"""The starting catalogue as the shop's own: its work steps and operations, for the shop to confirm or to change.

They come in the shop's language and are its own words from then on: a paper prints them as they stand. `source` stays
as it is written, because each paper says it in its own reader's language.
"""

from __future__ import annotations

from django.db import transaction

from orders.models import LabourOperation
from orders.models.catalogue import WorkStep
from orders.rules.labour import Rounding, labour_time
from orders.rules.operations import catalogue
from shopdocs.documents.press.words import words
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from .wording import paper_language


@transaction.atomic
def import_catalogue(*, shop: Shop, by: Staff) -> dict[str, int]:
    """Adds the steps and operations that the shop does not have yet; what is there, changed or not, stays as it is."""
    shipped, say = catalogue(), words(paper_language(shop))
    known = set(WorkStep.objects.for_shop(shop).values_list("key", flat=True))
    steps = [
        WorkStep(
            shop=shop, key=step.key, words=say(step.words), minutes=step.minutes, needs=list(step.needs),
            undoes=list(step.undoes), repeats=step.repeats,
        )
        for step in shipped.guide.steps.values()
        if step.key not in known
    ]  # fmt: skip
    codes = set(LabourOperation.objects.for_shop(shop).filter(model=None).values_list("code", flat=True))
    operations = [
        LabourOperation(
            shop=shop,
            code=item.key,
            words=say(item.words),
            # An operation for several families is for any of them; its words say which machines are meant.
            family=item.families[0] if len(item.families) == 1 else "",
            hours=labour_time(shipped.guide, [item.key], Rounding.HALF_UP).hours,
            source=item.source[:200],
            steps=list(item.operation.steps),
            action=item.action,
            components=list(item.components) if item.action else [],
        )
        for item in shipped.operations.values()
        if item.key not in codes
    ]
    WorkStep.objects.bulk_create(steps)
    LabourOperation.objects.bulk_create(operations)
    added = {"steps": len(steps), "operations": len(operations)}
    if steps or operations:
        told = f"{len(operations)} operations and {len(steps)} work steps of the starting catalogue"
        record_event(shop=shop, subject=f"shop:{shop.pk}", verb="operations imported", words=told, by=by)
    return added
