"""What comes back of a part line: an old core for which a charge was made, or a part that was not used."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import JobPart
from orders.models.jobs import JobFee
from orders.rules.parts import core_credit
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .discounts import refuse_below_nothing
from .late_credits import lock_changeable, lock_until_billed, settle_unless_done
from .records import given_in_address

CORE, PART = "core", "part"


@transaction.atomic
def return_part(*, shop: Shop, by: Staff, part_id: UUID, what: str, quantity: Any = Decimal(1)) -> JobFee:
    """Credits cores or parts of a line that come back, at what each was charged; never more than were charged.

    A core may come back after the job is done, until it is billed. Conflict where no core was charged, where a fitted
    part is said to be unused, and for the customer's own part.
    """
    peek = given_in_address(JobPart, shop=shop, pk=part_id)
    job = (lock_until_billed if what == CORE else lock_changeable)(shop, peek.job_id)
    line = given_in_address(JobPart, shop=shop, pk=part_id, lock=True)
    if what not in (CORE, PART):
        raise Refused("what", f"'{what[:40]}' does not come back.", "Send 'core' or 'part'.")
    each = line.core_charge if what == CORE else line.unit_price
    if not each:
        raise Conflict("what", f"Nothing was charged for the {what} of {line.words}.", "There is nothing to credit.")
    if what == PART and line.fitted_at:
        raise Conflict("what", f"{line.words} is fitted.", "Take the line off when the part came out again.")
    before = sum((row.returned_quantity or Decimal(0) for row in line.returns.filter(kind=what)), Decimal(0))
    pieces, left = amounts.quantity(quantity), line.quantity - before
    if what == PART and line.discount_percent:
        each = each * (100 - line.discount_percent) / 100
    try:
        credit = core_credit(left, pieces, each, amounts.currency_of(shop))
    except BadInput as bad:
        problem = f"{pieces.normalize():f} come back, of {left.normalize():f} that are still charged."
        raise Refused("quantity", problem, bad.remedy) from bad
    words = f"{'Core' if what == CORE else 'Part'} returned: {line.words}"[:400]
    fee: JobFee = JobFee.objects.create(
        shop=shop, job=job, kind=what, words=words, amount=credit, returned=line, returned_quantity=pieces
    )
    refuse_below_nothing(job, "quantity")
    settle_unless_done(job)
    record_event(shop=shop, subject=job.subject, verb="part returned", words=f"{words}: {credit:f}"[:500], by=by)
    return fee
