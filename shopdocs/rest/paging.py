"""Lists come in pages of at most 200, in a stated order."""

from typing import Any

from rest_framework.exceptions import ErrorDetail, NotFound
from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> Any:
        """One page of the rows; 404 naming `page` where there is no such page."""
        try:
            return super().paginate_queryset(queryset, request, view)
        except NotFound as error:
            asked = str(request.query_params.get(self.page_query_param))[:20]
            raise NotFound({"page": [ErrorDetail(f"There is no page '{asked}'.", "invalid_page")]}) from error
