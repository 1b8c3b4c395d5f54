"""What comes back of a part line: an old core for which a charge was made, or a part that was not used."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import JobPart
from orders.models.jobs import JobFee
from shopdocs.money import plain
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .came_back import CORE, PART, still_charged
from .discounts import comes_to, refuse_below_nothing
from .late_credits import lock_changeable, lock_until_billed, settle_unless_done
from .records import given_in_address


@transaction.atomic
def return_part(*, shop: Shop, by: Staff, part_id: UUID, what: str, quantity: Any = Decimal(1)) -> JobFee:
    """Takes cores or parts of a line that come back off it, at what was charged for them; never more than were charged.

    A part takes its share after every discount with it, and its core and environment charge; supplies and tax follow.
    The amount that is written down is the credit before these two, by the terms of this moment: papers work it out anew.
    A core may come back after the job is done, until it is billed. Conflict where no core was charged, where a fitted
    part is said to be unused, and for the customer's own part.
    """
    peek = given_in_address(JobPart, shop=shop, pk=part_id)
    job = (lock_until_billed if what == CORE else lock_changeable)(shop, peek.job_id)
    line = given_in_address(JobPart, shop=shop, pk=part_id, lock=True)
    if what not in (CORE, PART):
        raise Refused("what", f"'{what[:40]}' does not come back.", "Send 'core' or 'part'.")
    charged = line.core_charge if what == CORE else line.unit_price + line.core_charge + line.environment_charge
    if not charged:
        raise Conflict("what", f"Nothing was charged for the {what} of {line.words}.", "There is nothing to credit.")
    if what == PART and line.fitted_at:
        raise Conflict("what", f"{line.words} is fitted.", "Take the line off when the part came out again.")
    parts_left, cores_left = still_charged(line, job.fees.all())
    pieces, left = amounts.quantity(quantity), cores_left if what == CORE else parts_left
    if pieces > left:
        problem = f"{plain(pieces)} come back, of {plain(left)} that are still charged."
        raise Refused("quantity", problem, "Count them again.")
    words = f"{'Core' if what == CORE else 'Part'} returned: {line.words}"[:400]
    before = comes_to(job)
    fee: JobFee = JobFee.objects.create(
        shop=shop, job=job, kind=what, words=words, amount=0, returned=line, returned_quantity=pieces
    )
    fee.amount = comes_to(job) - before
    fee.save(update_fields=["amount"])
    refuse_below_nothing(job, "quantity")
    settle_unless_done(job)
    record_event(shop=shop, subject=job.subject, verb="part returned", words=f"{words}: {fee.amount:f}"[:500], by=by)
    return fee
