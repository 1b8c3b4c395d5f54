from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"
    label = "orders"

    def ready(self) -> None:
        from orders.services.charges import refuse_table
        from orders.services.house_region import kept_region
        from orders.services.kinds import register_papers
        from orders.services.proofs import refuse_photo_of_given_back
        from shopdocs.documents import subjects
        from shopdocs.shops import rates

        register_papers()
        subjects.register("order", refuse_photo_of_given_back)
        rates.register_tax_guard(refuse_table)
        rates.register_region_reader(kept_region)
