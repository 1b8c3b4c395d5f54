"""Doors to the plans and campaigns of a unit."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Unit
from shopdocs.rest.roles import COUNTER_OR_BENCH, DESK, STAFF
from shopdocs.rest.serializers import Day, Line, Strict
from warranty.models import CampaignMark, PlanHeld
from warranty.services import plans

from .base import DeskView, Flag, changing, optional_line

ANYBODY = COUNTER_OR_BENCH | DESK


class PlanIn(Strict):
    """Whether an extended plan is held on the unit. `code`: as a term of the shop asks for it. From `bought_on` on it is held."""

    code = Line(max_length=80)
    held = Flag()
    bought_on = Day(required=False, allow_null=True)
    number = optional_line(max_length=60)
    note = optional_line()


class CampaignIn(Strict):
    """Whether a campaign was done on the unit. `code`: as a term or known defect of the shop names it."""

    code = Line(max_length=80)
    done = Flag()
    done_on = Day(required=False, allow_null=True)
    number = optional_line(max_length=60)
    note = optional_line()


PlanChange = changing(PlanIn, "PlanChange", without=("code",))
CampaignChange = changing(CampaignIn, "CampaignChange", without=("code",))


class PlanOut(serializers.ModelSerializer[PlanHeld]):
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = PlanHeld
        fields = ("id", "unit", *PlanIn().fields, "by_name", "version", "created_at")
        read_only_fields = fields


class CampaignOut(serializers.ModelSerializer[CampaignMark]):
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = CampaignMark
        fields = ("id", "unit", *CampaignIn().fields, "by_name", "version", "created_at")
        read_only_fields = fields


class _Entries(DeskView):
    """What both lists of a unit share."""

    needs = {"list": STAFF, "create": ANYBODY}
    select = ("by",)
    order = ("code",)
    filter_backends = []

    def of_unit(self, unit_id: UUID, serializer: type[serializers.BaseSerializer[Any]]) -> Response:
        unit = self.mine(Unit, unit_id)
        return self.paged(self.get_queryset().filter(unit=unit), serializer)


class UnitPlans(_Entries):
    model = PlanHeld
    serializer_class = PlanOut

    @extend_schema(operation_id="unit_plans", responses=PlanOut(many=True))
    def list(self, request: Request, unit_id: UUID) -> Response:
        """The plans that somebody looked for on this unit, held or not."""
        return self.of_unit(unit_id, PlanOut)

    @extend_schema(operation_id="unit_plans_record", request=PlanIn, responses={201: PlanOut})
    def create(self, request: Request, unit_id: UUID) -> Response:
        """Says of one plan whether it is held."""
        return self.shown(plans.record_plan(**self.caller, unit_id=unit_id, **self.given(PlanIn)), new=True)


class UnitCampaigns(_Entries):
    model = CampaignMark
    serializer_class = CampaignOut

    @extend_schema(operation_id="unit_campaigns", responses=CampaignOut(many=True))
    def list(self, request: Request, unit_id: UUID) -> Response:
        """The campaigns that somebody looked up for this unit, done or not."""
        return self.of_unit(unit_id, CampaignOut)

    @extend_schema(operation_id="unit_campaigns_record", request=CampaignIn, responses={201: CampaignOut})
    def create(self, request: Request, unit_id: UUID) -> Response:
        """Says of one campaign whether it was done."""
        return self.shown(plans.record_campaign(**self.caller, unit_id=unit_id, **self.given(CampaignIn)), new=True)


class PlansHeld(DeskView):
    model = PlanHeld
    needs = {"partial_update": ANYBODY}
    serializer_class = PlanOut
    select = ("by", "unit")

    @extend_schema(operation_id="plans_held_change", request=PlanChange, responses=PlanOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Changes what is known of a plan."""
        given: dict[str, Any] = self.given_changes(PlanChange)
        return self.shown(plans.change_entry(**self.caller, row=self.get_object(), **given))


class CampaignMarks(DeskView):
    model = CampaignMark
    needs = {"partial_update": ANYBODY}
    serializer_class = CampaignOut
    select = ("by", "unit")

    @extend_schema(operation_id="campaign_marks_change", request=CampaignChange, responses=CampaignOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Changes what is known of a campaign."""
        given: dict[str, Any] = self.given_changes(CampaignChange)
        return self.shown(plans.change_entry(**self.caller, row=self.get_object(), **given))
