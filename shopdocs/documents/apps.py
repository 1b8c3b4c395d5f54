from django.apps import AppConfig


class DocumentsConfig(AppConfig):
    name = "shopdocs.documents"
    label = "documents"
