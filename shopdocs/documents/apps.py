from django.apps import AppConfig


class DocumentsConfig(AppConfig):
    name = "shopdocs.documents"
    label = "documents"

    def ready(self) -> None:
        # Whoever rings must ring at our own bell: without the app loaded, tasks would belong to Celery's default one,
        # whose broker is nobody's. The package itself does not import it, so that pure rooms stay free of it.
        from shopdocs import celery  # noqa: F401
