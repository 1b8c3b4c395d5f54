from django.apps import AppConfig


class WarrantyConfig(AppConfig):
    name = "warranty"
    label = "warranty"

    def ready(self) -> None:
        from orders.services import house_rules, receivables
        from warranty.services.doubts import at_recording
        from warranty.services.kinds import register_papers
        from warranty.services.rebuilds import rebuild_duties
        from warranty.services.receivables import claims_owed
        from warranty.services.standing import payers_that_fell
        from warranty.services.work_rules import objections

        register_papers()
        receivables.register_source("claims", claims_owed)
        house_rules.register("emission controls", objection=objections)
        house_rules.register("rebuilt engines", duties=rebuild_duties)
        house_rules.register("evidence", doubts=at_recording)
        house_rules.register("coverage", payers=payers_that_fell)
