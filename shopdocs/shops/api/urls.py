from django.urls import path
from rest_framework.routers import SimpleRouter

from .people import SignIn, SignOut, Who
from .rates import History, LabourRates, ShopDoor, TaxRates

router = SimpleRouter(use_regex_path=False)
router.register("labour-rates", LabourRates, basename="labour-rate")
router.register("tax-rates", TaxRates, basename="tax-rate")
router.register("history", History, basename="history")
urlpatterns = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-out/", SignOut.as_view(), name="sign-out"),
    path("who/", Who.as_view(), name="who"),
    path("shop/", ShopDoor.as_view(), name="shop"),
    *router.urls,
]
