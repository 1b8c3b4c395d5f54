"""Doors of the back half: jobs, estimates, answers, invoices."""

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []
