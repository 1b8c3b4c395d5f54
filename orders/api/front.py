"""Doors of the front half: catalogue, customers, units, check-in, orders, inspection, holds."""

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from .catalogue import DistributorView, MakerView, ModelView, OperationView, PartView, WorkStepView
from .inspection import FindingView, HoldView
from .orders import CheckInView, OrderView
from .people import CustomerView
from .pricing import JobFeeView, PricingTermsView
from .units import AssemblyView, HourReadingView, UnitView
from .words import WordsDoor

router = SimpleRouter(use_regex_path=False)
for prefix, view in {
    "distributors": DistributorView,
    "makers": MakerView,
    "models": ModelView,
    "operations": OperationView,
    "work-steps": WorkStepView,
    "parts": PartView,
    "pricing-terms": PricingTermsView,
    "job-fees": JobFeeView,
    "customers": CustomerView,
    "units": UnitView,
    "assemblies": AssemblyView,
    "hour-readings": HourReadingView,
    "check-in": CheckInView,
    "orders": OrderView,
    "findings": FindingView,
    "holds": HoldView,
}.items():
    router.register(prefix, view, basename=prefix)

urlpatterns: list[URLPattern | URLResolver] = [*router.urls, path("trade/", WordsDoor.as_view(), name="trade-words")]
