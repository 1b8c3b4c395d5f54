from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "shopdocs.demo"
    label = "demo"
