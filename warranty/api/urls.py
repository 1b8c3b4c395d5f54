"""The doors of warranty. What belongs to an order, job or finding stands under its address."""

from typing import Any

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from .circumstances import OrderCircumstances
from .claims import Claims, JobClaim, JobClaimLacks, PartsHolds
from .decisions import Decisions, JobBasis, OrderAsked, OrderDecisions
from .evidence import FindingEvidence
from .known_defects import KnownDefects, OrderKnownDefects
from .plans import CampaignMarks, PlansHeld, UnitCampaigns, UnitPlans
from .rebuilds import JobRebuildRecord, OrderDuties, RebuildRecords
from .running_out import RunningOut
from .terms import DistributorTermsView, Terms

BOTH: dict[str, Any] = {"get": "list", "post": "create"}

router = SimpleRouter(use_regex_path=False)
router.register("terms", Terms, basename="term")
router.register("distributor-terms", DistributorTermsView, basename="distributor-term")
router.register("known-defects", KnownDefects, basename="known-defect")
router.register("decisions", Decisions, basename="decision")
router.register("plans-held", PlansHeld, basename="plan-held")
router.register("campaign-marks", CampaignMarks, basename="campaign-mark")
router.register("rebuild-records", RebuildRecords, basename="rebuild-record")
router.register("running-out", RunningOut, basename="running-out")
router.register("claims", Claims, basename="claim")
router.register("parts-holds", PartsHolds, basename="parts-hold")

urlpatterns: list[URLPattern | URLResolver] = [
    path(
        "orders/<uuid:order_id>/circumstances/",
        OrderCircumstances.as_view({"get": "list", "patch": "partial_update"}),
        name="order-circumstances",
    ),
    path("units/<uuid:unit_id>/plans/", UnitPlans.as_view(BOTH), name="unit-plans"),
    path("units/<uuid:unit_id>/campaigns/", UnitCampaigns.as_view(BOTH), name="unit-campaigns"),
    path("orders/<uuid:order_id>/duties/", OrderDuties.as_view({"get": "list"}), name="order-duties"),
    path(
        "jobs/<uuid:job_id>/rebuild-record/",
        JobRebuildRecord.as_view({"get": "list", "patch": "partial_update"}),
        name="job-rebuild-record",
    ),
    path("orders/<uuid:order_id>/decisions/asked/", OrderAsked.as_view({"get": "list"}), name="order-decisions-asked"),
    path("orders/<uuid:order_id>/decisions/", OrderDecisions.as_view(BOTH), name="order-decisions"),
    path(
        "orders/<uuid:order_id>/known-defects/",
        OrderKnownDefects.as_view({"get": "list"}),
        name="order-known-defects",
    ),
    path("jobs/<uuid:job_id>/basis/", JobBasis.as_view({"post": "create"}), name="job-basis"),
    path("jobs/<uuid:job_id>/claim/", JobClaim.as_view(BOTH), name="job-claim"),
    path("jobs/<uuid:job_id>/claim/missing/", JobClaimLacks.as_view({"get": "list"}), name="job-claim-missing"),
    path("findings/<uuid:finding_id>/evidence/", FindingEvidence.as_view({"get": "list"}), name="finding-evidence"),
    *router.urls,
]
