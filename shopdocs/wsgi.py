"""The web process. With the embedded default it also holds the worker."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopdocs.settings")
application = get_wsgi_application()

from shopdocs.documents.embedded import start_embedded_worker  # noqa: E402 - needs the apps loaded

start_embedded_worker()
