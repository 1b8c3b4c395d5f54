"""The Celery app. Loaded by this module only, never by importing the package, so that pure rooms stay free of it.

celery -A shopdocs.celery worker        carries out papers and letters
celery -A shopdocs.celery beat          rings again for what was left behind (one process)
"""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopdocs.settings")

app = Celery("shopdocs")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.set_default()
app.autodiscover_tasks(["shopdocs.documents"])
