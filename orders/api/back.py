"""Doors of the back half: jobs, time, estimates, answers, invoices, and the end of an order's work."""

from typing import Any

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from .authorisation import OrderAuthorisationView, OrderConsentView
from .awaited import OrderAwaitedView
from .estimates import AnswerPhotoView, AnswerView, EstimateView, OrderEstimatesView
from .invoices import CreditNoteView, InvoiceView, OrderEndView, OrderInvoicesView, OrderMoneyView
from .job_lines import JobLabourView, JobPartView, TimeEntryView
from .jobs import JobView, OrderJobsView
from .not_picked_up import SafetyNoteView, WaitingView
from .options import OptionView, OrderOptionsView
from .receivables import DistributorStatementView, ReceivablesView, StatementView
from .signatures import RefusalChoiceView, SignatureView

router = SimpleRouter(use_regex_path=False)
for prefix, view in {
    "jobs": JobView,
    "job-labour": JobLabourView,
    "job-parts": JobPartView,
    "time-entries": TimeEntryView,
    "estimates": EstimateView,
    "invoices": InvoiceView,
    "credit-notes": CreditNoteView,
    "signatures": SignatureView,
    "options": OptionView,
}.items():
    router.register(prefix, view, basename=prefix)

OF_ORDER: dict[str, Any] = {"get": "list", "post": "create"}
urlpatterns: list[URLPattern | URLResolver] = [
    *router.urls,
    path("orders/<uuid:order_id>/jobs/", OrderJobsView.as_view(OF_ORDER), name="order-jobs"),
    path("orders/<uuid:order_id>/estimates/", OrderEstimatesView.as_view(OF_ORDER), name="order-estimates"),
    path("orders/<uuid:order_id>/options/", OrderOptionsView.as_view(OF_ORDER), name="order-options"),
    path("orders/<uuid:order_id>/invoices/", OrderInvoicesView.as_view(OF_ORDER), name="order-invoices"),
    path("orders/<uuid:order_id>/deposits/", OrderMoneyView.as_view(OF_ORDER), name="order-deposits"),
    path("orders/<uuid:order_id>/refunds/", OrderMoneyView.as_view({"post": "refund"}), name="order-refunds"),
    path(
        "orders/<uuid:order_id>/authorisation/",
        OrderAuthorisationView.as_view({"get": "look"}),
        name="order-authorisation",
    ),
    path(
        "orders/<uuid:order_id>/consent/",
        OrderConsentView.as_view({"get": "look", "post": "take_back"}),
        name="order-consent",
    ),
    path(
        "orders/<uuid:order_id>/awaited-parts/",
        OrderAwaitedView.as_view({"get": "look"}),
        name="order-awaited-parts",
    ),
    path("orders/<uuid:order_id>/finish/", OrderEndView.as_view({"post": "finish"}), name="order-finish"),
    path("orders/<uuid:order_id>/papers/", OrderEndView.as_view({"post": "papers"}), name="order-papers"),
    path("not-picked-up/", WaitingView.as_view({"get": "list"}), name="not-picked-up"),
    path(
        "orders/<uuid:order_id>/pickup-reminder/", WaitingView.as_view({"post": "remind"}), name="order-pickup-reminder"
    ),
    path("orders/<uuid:order_id>/pickup-told/", WaitingView.as_view({"post": "told"}), name="order-pickup-told"),
    path(
        "orders/<uuid:order_id>/storage-charge/", WaitingView.as_view({"post": "charge"}), name="order-storage-charge"
    ),
    path(
        "jobs/<uuid:job_id>/safety-note/",
        SafetyNoteView.as_view({"get": "retrieve", "post": "create"}),
        name="job-safety-note",
    ),
    path(
        "jobs/<uuid:job_id>/refusal-choices/",
        RefusalChoiceView.as_view({"get": "list", "post": "create"}),
        name="job-refusal-choices",
    ),
    path(
        "answer/<str:token>/photos/<str:sha256>/",
        AnswerPhotoView.as_view({"get": "retrieve"}),
        name="answer-photo",
    ),
    path("receivables/", ReceivablesView.as_view({"get": "list"}), name="receivables"),
    path("customers/<uuid:pk>/statement/", StatementView.as_view(OF_ORDER), name="customer-statement"),
    path(
        "customers/<uuid:pk>/statement/send/", StatementView.as_view({"post": "send"}), name="customer-statement-send"
    ),
    path("customers/<uuid:pk>/statement/how/", StatementView.as_view({"get": "how"}), name="customer-statement-how"),
    path(
        "distributors/<uuid:pk>/statement/how/",
        DistributorStatementView.as_view({"get": "how"}),
        name="distributor-statement-how",
    ),
    path("distributors/<uuid:pk>/statement/", DistributorStatementView.as_view(OF_ORDER), name="distributor-statement"),
    path(
        "distributors/<uuid:pk>/statement/send/",
        DistributorStatementView.as_view({"post": "send"}),
        name="distributor-statement-send",
    ),
    path("answer/<str:token>/", AnswerView.as_view({"get": "retrieve", "post": "create"}), name="answer"),
]
