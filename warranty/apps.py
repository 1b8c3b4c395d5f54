from django.apps import AppConfig


class WarrantyConfig(AppConfig):
    name = "warranty"
    label = "warranty"

    def ready(self) -> None:
        from warranty.services.kinds import register_papers

        register_papers()
