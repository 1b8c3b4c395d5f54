from django.apps import AppConfig


class ShopsConfig(AppConfig):
    name = "shopdocs.shops"
    label = "shops"
