"""Filtering lists: an id in a filter is looked up in the caller's shop, like any other id; an unknown filter is refused."""

from __future__ import annotations

from typing import Any

from django_filters.rest_framework import DjangoFilterBackend

from .refusals import Problem, Refused


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


def known_parameters(view: Any) -> list[str]:
    """The query parameters that this view's list knows: its filters, its pages, and those that it reads by itself."""
    known = set(view.query_parameters)
    if view.paginator is not None:
        known |= {view.paginator.page_query_param, view.paginator.page_size_query_param}
    if view.filter_backends:
        filters = getattr(view, "filterset_class", None)
        known |= set(filters.base_filters if filters else getattr(view, "filterset_fields", ()))
    return sorted(known)


def refuse_unknown_parameters(view: Any, request: Any) -> None:
    """A misspelt filter would answer with everything, as if all of it had been asked for."""
    known = known_parameters(view)
    unknown = sorted(set(request.query_params) - set(known))
    if unknown:
        told = f"Known here: {', '.join(known)}." if known else "Leave it out: none is known here."
        raise Refused(
            problems=[Problem(name[:60], f"There is no filter '{name[:60]}' here.", told) for name in unknown]
        )
