"""The shop itself, its labour rates and its taxes: the owner's to enter and confirm."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.response import Response
from rest_framework.views import APIView

from shopdocs.rest.refusals import Refused
from shopdocs.rest.requests import ShopRequest
from shopdocs.rest.roles import SHOP_OWNER, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Strict
from shopdocs.rest.views import ScopedView
from shopdocs.shops import rates
from shopdocs.shops.models import Event, LabourRate, Shop, TaxRate

PAYERS = ("customer", "warranty", "shop", "goodwill")
KINDS = ("labour", "part", "core", "fee", "supplies", "freight", "sublet", "delivery", "disposal")


class ShopOut(serializers.ModelSerializer[Shop]):
    class Meta:
        model = Shop
        fields = (
            "slug", "version", "name", "street", "city", "region", "postcode", "country", "phone", "email", "time_zone", "currency",
            "currency_symbol", "currency_decimals", "paper", "language", "measures", "accent", "tax_basis", "estimate_days",
            "own_overrun_percent", "storage_free_days", "storage_per_day", "storage_after_notice",
            "claim_camera_facts", "tax_id", "electronic_invoice",
        )  # fmt: skip
        read_only_fields = fields


class ShopIn(Strict):
    """`claim_camera_facts`: claims filed from now on tell where each photo was taken and the camera's serial number.

    `electronic_invoice`: invoices from now on carry themselves as XML (EN 16931); it needs a `tax_id`.
    """

    version = serializers.IntegerField(min_value=1)
    name = Line(max_length=200, required=False)
    street = Line(max_length=200, required=False, allow_blank=True)
    city = Line(max_length=120, required=False, allow_blank=True)
    region = Line(max_length=60, required=False, allow_blank=True)
    postcode = Line(max_length=20, required=False, allow_blank=True)
    phone = Line(max_length=40, required=False, allow_blank=True)
    email = serializers.EmailField(max_length=254, required=False, allow_blank=True)
    time_zone = Line(max_length=60, required=False)
    paper = serializers.ChoiceField(choices=["letter", "a4"], required=False)
    measures = serializers.ChoiceField(choices=Shop.Measures.choices, required=False, allow_blank=True)
    accent = Line(max_length=7, required=False)
    tax_basis = serializers.ChoiceField(choices=Shop.TaxBasis.choices, required=False)
    estimate_days = serializers.IntegerField(min_value=1, max_value=365, required=False)
    own_overrun_percent = Amount(max_digits=6, max_value=100, required=False)
    storage_free_days = serializers.IntegerField(min_value=0, max_value=3650, required=False, allow_null=True)
    storage_per_day = Amount(max_digits=12, required=False, allow_null=True)
    storage_after_notice = serializers.BooleanField(required=False)
    tax_id = Line(max_length=20, required=False, allow_blank=True)
    electronic_invoice = serializers.BooleanField(required=False)
    claim_camera_facts = serializers.BooleanField(required=False)


class ShopDoor(APIView):
    needs = {"get": STAFF, "patch": SHOP_OWNER}

    @extend_schema(operation_id="shop", responses=ShopOut)
    def get(self, request: ShopRequest) -> Response:
        """The caller's shop."""
        return Response(ShopOut(request.shop).data)

    @extend_schema(operation_id="shop_change", request=ShopIn, responses=ShopOut)
    def patch(self, request: ShopRequest) -> Response:
        """Changes the shop's own data. Papers that were sent keep what they said."""
        given = ShopIn(data=request.data)
        given.is_valid(raise_exception=True)
        shop = rates.change_shop(
            by=request.staff, version=given.validated_data.pop("version"), changes=given.validated_data
        )
        return Response(ShopOut(shop).data)


class LabourRateOut(serializers.ModelSerializer[LabourRate]):
    class Meta:
        model = LabourRate
        fields = (
            "id", "version", "payer", "skill", "per_hour", "starts_on", "ends_on", "corrects", "corrected_at", "created_at",
        )  # fmt: skip
        read_only_fields = fields


class LabourRateIn(Strict):
    payer = serializers.ChoiceField(choices=PAYERS, allow_blank=True, required=False, default="")
    skill = Line(max_length=40, required=False, allow_blank=True)
    per_hour = Amount(max_digits=11)
    starts_on = Day()


class BracketIn(Strict):
    """Amounts up to and including `up_to` bear this tax."""

    up_to = Amount()
    tax = Amount()


class BracketsIn(Strict):
    """A statute's table: `below` for amounts under one `whole`; from there `per_whole`, and `excess` for the rest.

    Both lists rise and reach the last cent below one whole.
    """

    whole = Amount(required=False)
    per_whole = Amount()
    below = BracketIn(many=True, allow_empty=False, max_length=200)  # type: ignore[call-arg]
    excess = BracketIn(many=True, allow_empty=False, max_length=200)  # type: ignore[call-arg]


class BracketOut(serializers.Serializer[Any]):
    up_to = serializers.CharField()
    tax = serializers.CharField()


class BracketsOut(serializers.Serializer[Any]):
    whole = serializers.CharField()
    per_whole = serializers.CharField()
    below = BracketOut(many=True)
    excess = BracketOut(many=True)


class TaxRateOut(serializers.ModelSerializer[TaxRate]):
    brackets = BracketsOut(allow_null=True)

    class Meta:
        model = TaxRate
        fields = (
            "id", "version", "name", "percent", "brackets", "on_kinds", "with_parts", "on_payers", "starts_on", "ends_on",
            "corrects", "corrected_at", "created_at",
        )  # fmt: skip
        read_only_fields = fields


class TaxRateIn(Strict):
    """One tax of one jurisdiction. `with_parts`: kinds that are taxed only in a job with a part for the same payer.

    With `brackets` the tax comes from the table; `percent` is then what the paper names beside it.
    """

    name = Line(max_length=120)
    percent = serializers.DecimalField(max_digits=7, decimal_places=4, min_value=0, max_value=100)
    on_kinds: Any = serializers.ListField(child=serializers.ChoiceField(choices=KINDS), allow_empty=False)
    on_payers: Any = serializers.ListField(child=serializers.ChoiceField(choices=PAYERS), allow_empty=False)
    with_parts: Any = serializers.ListField(child=Line(max_length=12), required=False, max_length=len(KINDS))
    brackets = BracketsIn(required=False, allow_null=True)
    starts_on = Day()
    ends_on = Day(required=False, allow_null=True)

    def validate_percent(self, value: Any) -> Any:
        if value >= 100:
            raise Refused("percent", "A tax of 100 percent or more is surely a slip.", "Enter 8.25 for 8.25 percent.")
        return value


class LabourRateCorrectionIn(Strict):
    """The version that was read, the right figure, and why: the history keeps all of them."""

    version = serializers.IntegerField(min_value=1, max_value=2_147_483_647)
    per_hour = Amount(max_digits=11)
    reason = Line(max_length=300)


class TaxRateCorrectionIn(TaxRateIn):
    """The version that was read, why, and what is right instead. The name and the first day stay."""

    version = serializers.IntegerField(min_value=1, max_value=2_147_483_647)
    reason = Line(max_length=300)
    name = None  # type: ignore[assignment]
    starts_on = None  # type: ignore[assignment]

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        fields = super().get_fields()
        for name in {*rates.CORRECTABLE} & {*fields}:
            fields[name].required = False
        return fields


class LabourRates(mixins.ListModelMixin, ScopedView):
    model = LabourRate
    needs = {"list": STAFF, "create": SHOP_OWNER, "correct": SHOP_OWNER}
    order = ("payer", "-starts_on", "-created_at")
    serializer_class = LabourRateOut

    @extend_schema(request=LabourRateIn, responses={201: LabourRateOut})
    def create(self, request: ShopRequest) -> Response:
        """A new rate from a day on; the one before ends the day before. Nothing already priced changes."""
        row = rates.set_labour_rate(by=request.staff, **self.given(LabourRateIn))
        return Response(LabourRateOut(row).data, status=201)

    @extend_schema(operation_id="labour_rates_correct", request=LabourRateCorrectionIn, responses={201: LabourRateOut})
    @action(detail=True, methods=["post"])
    def correct(self, request: ShopRequest, pk: UUID) -> Response:
        """Another record takes the place of one that was entered wrongly. Nothing already priced changes."""
        row = rates.correct_labour_rate(by=request.staff, rate=pk, **self.given(LabourRateCorrectionIn))
        return Response(LabourRateOut(row).data, status=201)


class TaxRates(mixins.ListModelMixin, ScopedView):
    model = TaxRate
    needs = {"list": STAFF, "create": SHOP_OWNER, "correct": SHOP_OWNER}
    order = ("name", "-starts_on", "-created_at")
    serializer_class = TaxRateOut

    @extend_schema(request=TaxRateIn, responses={201: TaxRateOut})
    def create(self, request: ShopRequest) -> Response:
        """A new tax, or a new rate of one, from a day on. The shop confirms that it is right."""
        row = rates.set_tax_rate(by=request.staff, **self.given(TaxRateIn))
        return Response(TaxRateOut(row).data, status=201)

    @extend_schema(operation_id="tax_rates_correct", request=TaxRateCorrectionIn, responses={201: TaxRateOut})
    @action(detail=True, methods=["post"])
    def correct(self, request: ShopRequest, pk: UUID) -> Response:
        """Another record takes the place of one that was entered wrongly. Nothing already priced changes."""
        given = self.given(TaxRateCorrectionIn)
        version, reason = given.pop("version"), given.pop("reason")
        row = rates.correct_tax_rate(by=request.staff, rate=pk, version=version, reason=reason, changes=given)
        return Response(TaxRateOut(row).data, status=201)


class EventOut(serializers.ModelSerializer[Event]):
    class Meta:
        model = Event
        fields = ("id", "subject", "verb", "words", "facts", "by_name", "at")
        read_only_fields = fields


class History(mixins.ListModelMixin, ScopedView):
    """Who did what, when."""

    needs = {"list": STAFF}
    serializer_class = EventOut
    filterset_fields = ("subject", "verb")

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):
            return Event.objects.none()
        return Event.objects.filter(shop=self.request.shop).order_by("at", "id")
