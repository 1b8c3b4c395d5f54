"""Every door of the house. The API's doors stand in each room's api.urls."""

from django.urls import include, path

urlpatterns = [
    path("api/", include("shopdocs.rest.urls")),
    path("api/v1/", include("shopdocs.shops.api.urls")),
    path("api/v1/", include("shopdocs.documents.api.urls")),
    path("api/v1/", include("orders.api.urls")),
    path("api/v1/", include("warranty.api.urls")),
]

handler400 = "shopdocs.rest.outside.bad_request"
handler403 = "shopdocs.rest.outside.forbidden"
handler404 = "shopdocs.rest.outside.not_found"
handler500 = "shopdocs.rest.outside.server_error"
