"""Doors to machines that are ready and still here, and to the safety notes that must be signed before they leave."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job, RepairOrder, SafetyNote
from orders.services.not_picked_up import charge_storage, not_picked_up, note_told, send_reminder, waiting_of
from orders.services.safety import note_to_sign, sign_safety_note, signed_note, unsafe_declined
from shopdocs.rest.roles import COUNTER, COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Line, Strict

from .estimates import GivenIn, SendIn
from .fields import FrontView, optional_line
from .invoices import InvoiceOut
from .money import Money


class StorageOut(serializers.Serializer[Any]):
    """Days charged from `first` to `last`, both counted, and how it comes to that."""

    days = serializers.IntegerField()
    first = serializers.DateField(allow_null=True)
    last = serializers.DateField(allow_null=True)
    amount = Money()
    why = serializers.CharField()


class WaitingOut(serializers.Serializer[Any]):
    """One machine that is ready. `storage` is what its terms come to; nothing of it is charged but by an act.

    `law` says where to look before anybody speaks of a lien: nothing of it is worked out here.
    """

    order = serializers.UUIDField(source="order.pk")
    number = serializers.CharField(source="order.number")
    customer_name = serializers.CharField(source="order.customer.name")
    unit_words = serializers.CharField(source="order.unit")
    finished_on = serializers.DateField()
    days = serializers.IntegerField()
    notices = serializers.ListField(child=serializers.DateField())
    storage = StorageOut(source="charge")
    law = serializers.CharField()


class ToldIn(GivenIn):
    """How the customer was told that the machine is ready: in person or by telephone, with what shows it."""


class StorageChargeIn(Strict):
    """Why storage is charged now."""

    note = Line()


class WaitingView(FrontView):
    """Machines that are ready and were not picked up."""

    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = WaitingOut
    pagination_class = None
    filter_backends = []
    needs = {"list": STAFF, "remind": COUNTER_OR_DESK, "told": COUNTER_OR_DESK, "charge": COUNTER_OR_DESK}

    @extend_schema(operation_id="not_picked_up", responses=WaitingOut(many=True))
    def list(self, request: Request) -> Response:
        """Every machine that is ready and still here, the longest waiting first."""
        return Response(self.get_serializer(not_picked_up(self.request.shop), many=True).data)

    @extend_schema(operation_id="orders_pickup_reminder", request=SendIn, responses=WaitingOut)
    def remind(self, request: Request, order_id: UUID) -> Response:
        """Writes to the customer that the machine is ready."""
        send_reminder(**self.caller, order_id=order_id, **self.given(SendIn))
        return self._stands(order_id)

    @extend_schema(operation_id="orders_pickup_told", request=ToldIn, responses=WaitingOut)
    def told(self, request: Request, order_id: UUID) -> Response:
        """Writes down that the customer was told in person or by telephone."""
        note_told(**self.caller, order_id=order_id, **self.given(ToldIn))
        return self._stands(order_id)

    @extend_schema(operation_id="orders_storage_charge", request=StorageChargeIn, responses={201: InvoiceOut})
    def charge(self, request: Request, order_id: UUID) -> Response:
        """Bills the storage that has come so far, by the terms that were told; an act of its own, never by itself."""
        invoice = charge_storage(**self.caller, order_id=order_id, **self.given(StorageChargeIn))
        return Response(InvoiceOut(invoice, context=self.get_serializer_context()).data, status=201)

    def _stands(self, order_id: UUID) -> Response:
        return Response(self.get_serializer(waiting_of(self.mine(RepairOrder, order_id))).data)


class SafetyNoteIn(Strict):
    """The customer's sign-off: `signature` (the id of one drawn on a screen), or `kept`: where the signed paper is."""

    signed_name = Line(max_length=200)
    signature = serializers.UUIDField(required=False, allow_null=True)
    kept = optional_line(max_length=200)


class SafetyNoteOut(serializers.Serializer[Any]):
    """What is told and signed. `needed`: the machine does not leave before; `signed_at` null: not signed yet."""

    needed = serializers.BooleanField()
    words = serializers.CharField()
    signed_name = serializers.CharField()
    signature = serializers.UUIDField(allow_null=True)
    signed_at = serializers.DateTimeField(allow_null=True)


class SafetyNoteView(FrontView):
    """The safety note of a declined job that leaves the machine unsafe."""

    model = SafetyNote
    queryset = SafetyNote.objects.none()
    serializer_class = SafetyNoteOut
    pagination_class = None
    filter_backends = []
    needs = {"retrieve": STAFF, "create": COUNTER}

    @extend_schema(operation_id="jobs_safety_note", responses=SafetyNoteOut)
    def retrieve(self, request: Request, job_id: UUID) -> Response:
        """The words to be signed, or those that were signed; a danger that was not told yet is signed anew."""
        return Response(SafetyNoteOut(_note(self.mine(Job, job_id))).data)

    @extend_schema(operation_id="jobs_safety_note_sign", request=SafetyNoteIn, responses={201: SafetyNoteOut})
    def create(self, request: Request, job_id: UUID) -> Response:
        """Records the customer's sign-off."""
        sign_safety_note(**self.caller, job_id=job_id, **self.given(SafetyNoteIn))
        return Response(SafetyNoteOut(_note(self.mine(Job, job_id))).data, status=201)


def _note(job: Job) -> dict[str, Any]:
    signed = signed_note(job)
    needed = any(row.pk == job.pk for row in unsafe_declined(job.order))
    return {
        "needed": needed and signed is None,
        "words": signed.words if signed is not None else note_to_sign(job),
        "signed_name": signed.signed_name if signed is not None else "",
        "signature": signed.signature_id if signed is not None else None,
        "signed_at": signed.signed_at if signed is not None else None,
    }
