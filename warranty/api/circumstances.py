"""The door to what somebody found out for the decision of an order."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import RepairOrder
from shopdocs.rest.roles import COUNTER_OR_BENCH, DESK, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Strict
from warranty.coverage import vocabulary as v
from warranty.models import Circumstances
from warranty.services.circumstance_words import MOST_CODES, MOST_MONTHS, MOST_REPAIRS, OF_MACHINE
from warranty.services.circumstances import circumstances_of, record_circumstances

from .base import DeskView, Flag


def _word(choices: tuple[str, ...]) -> serializers.ChoiceField:
    return serializers.ChoiceField(choices=choices, required=False, allow_null=True)


def _flag() -> Flag:
    return Flag(required=False, allow_null=True)


def _codes() -> serializers.ListField:
    return serializers.ListField(child=Line(max_length=80), required=False, allow_null=True, max_length=MOST_CODES)


class FindingFoundOut(Strict):
    """Facts of one finding. `done_by`: who did or left the work; `stands_alone`: asserted that nothing else caused it;
    `belongs_to` 'unit': to the machine itself and to no assembly with a maker of its own."""

    done_by = _word(v.DONE_BY)
    upkeep_item = _word(v.UPKEEP_ITEMS)
    never_opened = _flag()
    stands_alone = _flag()
    belongs_to = _word((OF_MACHINE,))


class DueIn(Strict):
    """The first scheduled replacement of a component: months, hours, or both."""

    months = serializers.IntegerField(min_value=0, max_value=MOST_MONTHS, required=False, allow_null=True)
    hours = Amount(max_digits=8, decimal_places=1, required=False, allow_null=True)


class RepairElsewhere(Strict):
    """An earlier repair that this shop did not do. `under`: the id of the term that paid, '' when none did."""

    day = Day()
    components = serializers.ListField(child=Line(max_length=60), min_length=1, max_length=MOST_CODES)
    done_by = _word(v.DONE_BY)
    hours = Amount(max_digits=8, decimal_places=1, required=False, allow_null=True)
    under = Line(max_length=200, required=False, allow_null=True, allow_blank=True)
    part_maker = Line(max_length=200, required=False, allow_null=True)
    new_part = _flag()


class OwnRepair(Strict):
    """What this shop's own order does not tell of a repair. `under`: the id of the term that paid, '' when none did."""

    under = Line(max_length=200, required=False, allow_null=True, allow_blank=True)
    part_maker = Line(max_length=200, required=False, allow_null=True)
    new_part = _flag()
    hours = Amount(max_digits=8, decimal_places=1, required=False, allow_null=True)


class CircumstancesIn(Strict):
    """The version that was read (0: nothing is recorded yet) and the facts to change; null takes a fact back.

    `upkeep` changes item by item and `findings` by id; lists and the schedule are replaced whole, and an empty one says 'none'.
    """

    version = serializers.IntegerField(min_value=0, max_value=2_147_483_647)
    fuel = _word(v.FUELS)
    serviced_by = _word(v.SERVICED_BY)
    other_parts = _flag()
    manual_forbids_fuel = _flag()
    proper_fuel_at_hand = _flag()
    emergency_repair = _flag()
    severe_service = _flag()
    hours_limit_invoked = _flag()
    transfer_registered = _flag()
    registered = _flag()
    no_proof_can_be_had = _flag()
    upkeep = serializers.DictField(child=Flag(allow_null=True), required=False, allow_null=True)
    replacement_schedule = serializers.DictField(child=DueIn(), required=False, allow_null=True)
    plans = _codes()
    campaigns_done = _codes()
    miles_to_centre = Amount(max_digits=8, decimal_places=1, required=False, allow_null=True)
    first_sold_on = Day(required=False, allow_null=True)
    first_sale_kind = _word(v.SALE_KINDS)
    repairs_elsewhere = RepairElsewhere(many=True, required=False, allow_null=True, max_length=MOST_REPAIRS)  # type: ignore[call-arg]
    own_repairs = serializers.DictField(child=OwnRepair(), required=False, allow_null=True)
    findings = serializers.DictField(child=FindingFoundOut(allow_null=True), required=False)


class CircumstancesOut(serializers.Serializer[Any]):
    """What is recorded; a fact that is not there is not known. `version` 0: nothing was ever recorded."""

    order = serializers.UUIDField()
    version = serializers.IntegerField()
    unit = serializers.DictField()
    findings = serializers.DictField()


class OrderCircumstances(DeskView):
    """What was found out for the decision of one order."""

    model = Circumstances
    needs = {"list": STAFF, "partial_update": COUNTER_OR_BENCH | DESK}
    serializer_class = CircumstancesOut
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="order_circumstances", responses=CircumstancesOut)
    def list(self, request: Request, order_id: UUID) -> Response:
        """The facts as recorded, with the version to change them by."""
        order = self.mine(RepairOrder, order_id)
        return _told(order, circumstances_of(order))

    @extend_schema(operation_id="order_circumstances_change", request=CircumstancesIn, responses=CircumstancesOut)
    def partial_update(self, request: Request, order_id: UUID) -> Response:
        """Merges facts into those recorded. Decisions made before stay as they were: ask for a new one."""
        order = self.mine(RepairOrder, order_id)
        changes = self.given(CircumstancesIn)
        version = changes.pop("version")
        return _told(order, record_circumstances(**self.caller, order=order, version=version, changes=changes))


def _told(order: RepairOrder, row: Circumstances | None) -> Response:
    told = {
        "order": order.pk, "version": row.version if row else 0, "unit": row.unit if row else {},
        "findings": row.findings if row else {},
    }  # fmt: skip
    return Response(CircumstancesOut(told).data)
