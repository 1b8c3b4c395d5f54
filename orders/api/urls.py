"""The doors of this room: the front half (check-in to give-back) and the back half (jobs to invoice)."""

from django.urls import URLPattern, URLResolver

from . import back, front

urlpatterns: list[URLPattern | URLResolver] = [*front.urlpatterns, *back.urlpatterns]
