"""Filtering lists: an id in a filter is looked up in the caller's shop, like any other id."""

from __future__ import annotations

from typing import Any

from django_filters.rest_framework import DjangoFilterBackend


class ScopedFilters(DjangoFilterBackend):
    """Another shop's id and a made-up one get the same answer: a list does not tell what exists elsewhere."""

    def get_filterset(self, request: Any, queryset: Any, view: Any) -> Any:
        filterset = super().get_filterset(request, queryset, view)
        if filterset is not None and hasattr(request, "shop"):
            for field in filterset.form.fields.values():
                rows = getattr(field, "queryset", None)
                if rows is not None and hasattr(rows, "for_shop"):
                    field.queryset = rows.for_shop(request.shop)
                elif getattr(field, "choices", None):
                    known = ", ".join(str(value) for value, _ in field.choices if value != "").replace("%", "%%")
                    field.error_messages["invalid_choice"] = f"'%(value)s' is none of the values known here: {known}."
        return filterset
