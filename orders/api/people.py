"""Doors to customers."""

from __future__ import annotations

from uuid import UUID

import django_filters
from django.db.models import Q, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Customer
from orders.services.certificates import runs_out
from orders.services.people import create_customer, update_customer
from shopdocs.documents.api.printing import typed
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Day, Line, Strict, Text
from shopdocs.shops.models import Shop

from .catalogue import KEPT
from .fields import Flag, FrontView, Language, Mail, changing, optional_line

CUSTOMER_FIELDS = [
    *KEPT, "kind", "name", "company", "email", "phone", "street", "city", "region", "postcode", "language", "measures", "tax_exempt",
    "tax_certificate", "tax_exempt_until", "note"
]  # fmt: skip


class CustomerIn(Strict):
    name = Line()
    kind = serializers.ChoiceField(choices=Customer.Kind.choices, required=False)
    company = optional_line()
    email = Mail()
    phone = optional_line(max_length=60)
    street = optional_line()
    city = optional_line(max_length=200)
    region = optional_line(max_length=60)
    postcode = optional_line(max_length=20)
    language = Language(required=False, allow_blank=True)
    measures = serializers.ChoiceField(choices=Shop.Measures.choices, required=False, allow_blank=True)
    tax_exempt = Flag(required=False)
    tax_certificate = optional_line(max_length=100)
    tax_exempt_until = Day(required=False, allow_null=True)
    note = Text(required=False, allow_blank=True)


CustomerChange = changing(CustomerIn, "CustomerChange")


class CustomerOut(serializers.ModelSerializer[Customer]):
    cannot_print = typed("name", "company", "street", "city", "region")
    exemption_runs_out = serializers.SerializerMethodField()

    class Meta:
        model = Customer
        fields = [*CUSTOMER_FIELDS, "cannot_print", "exemption_runs_out"]

    def get_exemption_runs_out(self, customer: Customer) -> str:
        """For the staff, as of today: that the certificate of tax exemption runs out, or has; '' where it does not."""
        request = self.context.get("request")
        return runs_out(customer, shop=request.shop if request is not None else customer.shop)


class CustomerFilter(django_filters.FilterSet):
    """`search` finds a part of name, company, telephone number or e-mail address."""

    search = django_filters.CharFilter(method="find")

    class Meta:
        model = Customer
        fields = ["kind"]

    def find(self, rows: QuerySet[Customer], name: str, value: str) -> QuerySet[Customer]:
        return rows.filter(
            Q(name__icontains=value)
            | Q(company__icontains=value)
            | Q(phone__icontains=value)
            | Q(email__icontains=value)
        )


class CustomerView(mixins.ListModelMixin, mixins.RetrieveModelMixin, FrontView):
    model = Customer
    queryset = Customer.objects.none()
    serializer_class = CustomerOut
    filterset_class = CustomerFilter
    order = ("name", "id")
    needs = {"list": STAFF, "retrieve": STAFF, "create": COUNTER_OR_DESK, "partial_update": COUNTER_OR_DESK}

    @extend_schema(request=CustomerIn, responses={201: CustomerOut})
    def create(self, request: Request) -> Response:
        return self.shown(create_customer(**self.caller, facts=self.given(CustomerIn)), new=True)

    @extend_schema(request=CustomerChange, responses=CustomerOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(update_customer(**self.caller, pk=pk, **self.given_changes(CustomerChange)))
