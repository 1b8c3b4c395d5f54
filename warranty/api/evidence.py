"""The door to the evidence table for a finding. It says what is likely, never who pays."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Finding
from orders.rules.trade import trade
from shopdocs.rest.roles import STAFF
from warranty.evidence.table import EvidenceRow, RankedCause
from warranty.services.evidence_rows import Evidence, evidence_of

from .base import DeskView


class SignOut(serializers.Serializer[Any]):
    code = serializers.CharField()
    words = serializers.CharField()


class EvidenceRowOut(serializers.Serializer[Any]):
    """One explanation: the signs for and against it, the check that proves it with its precaution, how it is usually settled."""

    code = serializers.CharField()
    points_to = serializers.CharField()
    points_to_words = serializers.CharField()
    apart_from = serializers.ListField(child=serializers.CharField())
    signs_for = SignOut(many=True)
    signs_against = SignOut(many=True)
    prove = serializers.CharField()
    precaution = serializers.CharField()
    settled = serializers.CharField()
    source: Any = serializers.CharField()


class ReasonOut(serializers.Serializer[Any]):
    row = serializers.CharField()
    sign = SignOut(allow_null=True)
    speaks_for = serializers.BooleanField(allow_null=True)
    words = serializers.CharField()


class RankedCauseOut(serializers.Serializer[Any]):
    """A cause: 'supported', 'contested', 'open' or 'ruled_out', with reasons, and the checks that would settle it."""

    cause = serializers.CharField()
    standing = serializers.CharField()
    reasons = ReasonOut(many=True)
    checks = serializers.ListField(child=serializers.CharField())


class RootOut(serializers.Serializer[Any]):
    component = serializers.CharField()
    condition = serializers.CharField()


class DoubtOut(serializers.Serializer[Any]):
    """What does not fit. `kind` 'contradiction': both cannot be true; 'ask': one more fact is wanted. `field` of the finding, or 'unit'."""

    code = serializers.CharField()
    kind = serializers.CharField()
    field: Any = serializers.CharField()
    words = serializers.CharField()
    remedy = serializers.CharField()


class EvidenceOut(serializers.Serializer[Any]):
    """What the table says; `come_from` are findings that commonly come first; `asides` are signs in words of one's own.

    `doubts`: contradictions between the cause marked and the signs or facts, then questions.
    """

    finding = serializers.UUIDField()
    causes = RankedCauseOut(many=True)
    rows = EvidenceRowOut(many=True)
    signs = SignOut(many=True)
    come_from = RootOut(many=True)
    asides = serializers.ListField(child=serializers.CharField())
    doubts = DoubtOut(many=True)


class FindingEvidence(DeskView):
    """The evidence table for one finding."""

    model = Finding
    needs = {"list": STAFF}
    select = ("order__unit__model",)
    serializer_class = EvidenceOut
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="finding_evidence", responses=EvidenceOut)
    def list(self, request: Request, finding_id: UUID) -> Response:
        """Which causes are possible for what was found, how to tell them apart, and how it is usually settled."""
        self.mine(Finding, finding_id)
        finding = self.get_queryset().get(pk=finding_id)
        found = evidence_of(finding=finding)
        return Response(EvidenceOut(_told(finding, found)).data)


def _told(finding: Finding, found: Evidence) -> dict[str, Any]:
    power = finding.order.unit.power_source
    return {
        "finding": finding.pk,
        "causes": [_cause(one) for one in found.causes],
        "rows": [_row(one, power) for one in found.rows],
        "signs": found.signs,
        "come_from": [{"component": part, "condition": state} for part, state in found.roots],
        "asides": found.asides,
        "doubts": found.doubts,
    }


def _cause(one: RankedCause) -> dict[str, Any]:
    return {"cause": one.cause, "standing": one.standing, "reasons": one.reasons, "checks": one.checks}


def _row(one: EvidenceRow, power: str) -> dict[str, Any]:
    return {
        "code": one.code, "points_to": one.points_to, "points_to_words": trade().causes[one.points_to].name,
        "apart_from": one.apart_from, "signs_for": one.signs_for, "signs_against": one.signs_against,
        "prove": one.prove, "precaution": one.precaution(power) if power in trade().powers else one.care,
        "settled": one.settled, "source": one.source,
    }  # fmt: skip
