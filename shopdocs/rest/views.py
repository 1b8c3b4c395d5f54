"""The base of our views: the caller's shop, and nothing outside it."""

from __future__ import annotations

from typing import Any

from django.db.models import Model, QuerySet
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.viewsets import GenericViewSet

from .filters import refuse_unknown_parameters
from .refusals import Refused
from .requests import ShopRequest


class ScopedView(GenericViewSet[Any]):
    """A view set over one model of the caller's shop.

    Subclasses state `model`, `needs` (the permission table) and serializers. `select` names joins.
    """

    request: ShopRequest
    model: type[Model]
    needs: dict[str, frozenset[str]] = {}
    select: tuple[str, ...] = ()
    prefetch: tuple[str, ...] = ()
    order: tuple[str, ...] = ("-created_at", "id")
    query_parameters: tuple[str, ...] = ()
    """Query parameters that the list reads by itself, beside its filters and pages."""
    input_serializers: dict[str, type[serializers.BaseSerializer[Any]]] = {}
    lookup_value_converter = "uuid"

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        """As ever; then a list refuses a query parameter that it does not know."""
        super().initial(request, *args, **kwargs)
        if self.action == "list":
            refuse_unknown_parameters(self, request)

    def get_queryset(self) -> QuerySet[Any]:
        manager: Any = self.model._default_manager
        if getattr(self, "swagger_fake_view", False):
            return manager.none()
        rows = manager.for_shop(self.request.shop)
        return rows.select_related(*self.select).prefetch_related(*self.prefetch).order_by(*self.order)

    def given(self, serializer: type[serializers.BaseSerializer[Any]]) -> dict[str, Any]:
        """The request's data, checked by `serializer`; raises the 400 that names every field."""
        checked = serializer(data=self.request.data, context=self.get_serializer_context())
        checked.is_valid(raise_exception=True)
        data: dict[str, Any] = checked.validated_data
        return data

    def mine(self, model: Any, pk: Any, field: str = "") -> Any:
        """The record `pk` of `model` in the caller's shop. 404 where the address names it; 400 where `field` does."""
        found = model._default_manager.for_shop(self.request.shop).filter(pk=pk).first()
        if found is None and field:
            raise Refused(field, "No such record in your shop.", "Use the id of a record of your shop.")
        if found is None:
            raise NotFound
        return found
