from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"
    label = "orders"

    def ready(self) -> None:
        from orders.services.kinds import register_papers

        register_papers()
