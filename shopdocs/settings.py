"""Settings: typed, from the environment, each with a default that works.

Every name in `ENV` is described in DEVELOPERS.md ("Settings"); a test fails when one is not. What a text comes to, and
which are refused, stands in `environment.py`.
"""

import contextlib
import os
import secrets
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from shopdocs import environment

BASE_DIR = Path(__file__).resolve().parent.parent

ENV: dict[str, tuple[type, Any]] = {
    "VAR_DIR": (str, str(BASE_DIR / "var")),
    "SECRET_KEY": (str, ""),
    "DEBUG": (bool, False),
    "ALLOWED_HOSTS": (list, ["127.0.0.1", "localhost"]),
    "PUBLIC_URL": (str, "http://127.0.0.1:8000"),
    "DATABASE_URL": (str, ""),
    "DATABASE_CONN_MAX_AGE": (int, 60),
    "REDIS_URL": (str, ""),
    "QUEUE_NAME": (str, "shopdocs"),
    "EMBEDDED_WORKER": (bool, True),
    "STORAGE_URL": (str, ""),
    "EMAIL_URL": (str, ""),
    "LETTER_FOLDER": (str, ""),
    "LETTER_FROM": (str, "Shopdocs <shop@localhost>"),
    "MAX_UPLOAD_BYTES": (int, 25_000_000),
    "MAX_PIXELS": (int, 50_000_000),
    "MAX_PICTURE_MEMORY": (int, 300_000_000),
    "MIN_PICTURE_SIDE": (int, 200),
    "MAX_TEXT_CHARS": (int, 10_000),
    "MAX_BODY_BYTES": (int, 30_000_000),
    "ANSWER_LINK_DAYS": (int, 30),
    "SWEEP_SECONDS": (int, 15),
    "LEASE_SECONDS": (int, 120),
    "MAX_ATTEMPTS": (int, 8),
    "SIGN_IN_RATE": (str, "20/min"),
    "SIGNING_FILE": (str, ""),
    "SIGNING_PASSWORD": (str, ""),
    "HTTPS_ONLY": (bool, False),
    "LOG_LEVEL": (str, "INFO"),
}


def env(name: str) -> Any:
    """The setting as its type; unset and empty are the default."""
    kind, default = ENV[name]
    text = os.environ.get(name, "")
    return environment.parsed(name, kind, text) if text.strip() else default


VAR_DIR = Path(env("VAR_DIR")).absolute()
try:
    VAR_DIR.mkdir(parents=True, exist_ok=True)
except OSError as error:
    raise environment.BadSetting(
        "VAR_DIR", VAR_DIR, f"Give a folder that can be written ({error.strerror})."
    ) from error


def _secret_key() -> str:
    """The configured key, else one made once and kept in VAR_DIR, so that sign-ins survive a restart."""
    given: str = env("SECRET_KEY")
    if given:
        return given
    kept = VAR_DIR / "secret_key"
    if not kept.exists():
        fresh = VAR_DIR / f"secret_key.{secrets.token_hex(4)}"
        fresh.touch(mode=0o600)
        fresh.write_text(secrets.token_urlsafe(50))
        with contextlib.suppress(FileExistsError):
            kept.hardlink_to(fresh)  # the first of several starting processes wins
        fresh.unlink()
    return kept.read_text()


SECRET_KEY = _secret_key()
DEBUG: bool = env("DEBUG")
ALLOWED_HOSTS: list[str] = [*environment.hosts("ALLOWED_HOSTS", env("ALLOWED_HOSTS"))]
PUBLIC_URL = environment.public_url("PUBLIC_URL", env("PUBLIC_URL"))
_public = urlsplit(PUBLIC_URL)
if _public.hostname and _public.hostname not in ALLOWED_HOSTS:
    ALLOWED_HOSTS.append(_public.hostname)
CSRF_TRUSTED_ORIGINS = [f"{_public.scheme}://{_public.netloc}"]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = env("HTTPS_ONLY")
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if env("HTTPS_ONLY") else None

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "rest_framework",
    "rest_framework.authtoken",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "shopdocs.shops.apps.ShopsConfig",
    "shopdocs.documents.apps.DocumentsConfig",
    "orders.apps.OrdersConfig",
    "warranty.apps.WarrantyConfig",
    "shopdocs.demo.apps.DemoConfig",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "shopdocs.rest.middleware.BodyLimit",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "shopdocs.rest.middleware.Addresses",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
ROOT_URLCONF = "shopdocs.urls"
WSGI_APPLICATION = "shopdocs.wsgi.application"
TEMPLATES = [{"BACKEND": "django.template.backends.django.DjangoTemplates", "APP_DIRS": True}]
AUTH_USER_MODEL = "shops.User"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
LANGUAGE_CODE = "en-us"
USE_TZ = True
TIME_ZONE = "UTC"  # moments are stored in UTC; calendar dates belong to each shop's own zone
STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
WHITENOISE_USE_FINDERS = True  # packaged files are served as they are: no collectstatic step, no outside address
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]


def _database() -> dict[str, Any]:
    """SQLite tuned for several threads (WAL, waiting writers, IMMEDIATE) or whatever DATABASE_URL names."""
    config = environment.database("DATABASE_URL", env("DATABASE_URL"), VAR_DIR / "shopdocs.sqlite3")
    if config["ENGINE"].endswith("sqlite3"):
        config["OPTIONS"] = {
            "timeout": 20,
            "transaction_mode": "IMMEDIATE",
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
        }
        # In memory, WAL would never be exercised: the tests' database is a file too.
        config["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}
    else:
        config["CONN_MAX_AGE"] = env("DATABASE_CONN_MAX_AGE")
        config["CONN_HEALTH_CHECKS"] = True
    return config


DATABASES = {"default": _database()}

REDIS_URL = environment.redis_url("REDIS_URL", env("REDIS_URL"))
EMBEDDED_WORKER: bool = env("EMBEDDED_WORKER") and not REDIS_URL
CELERY_BROKER_URL = REDIS_URL or "memory://localhost//"
CELERY_BROKER_TRANSPORT_OPTIONS = {"visibility_timeout": 3600} if REDIS_URL else {"polling_interval": 0.02}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_DEFAULT_QUEUE = env("QUEUE_NAME")
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {"sweep": {"task": "documents.sweep", "schedule": env("SWEEP_SECONDS")}}

CACHES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
}

STORAGES = {
    "default": environment.storage("STORAGE_URL", env("STORAGE_URL"), VAR_DIR / "files"),
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
MEDIA_URL = "/never-served/"  # files leave only through the API, which asks whose they are

# Without EMAIL_URL every letter becomes a file: nothing leaves the machine until the shop says how.
_mail = environment.mail("EMAIL_URL", env("EMAIL_URL"))
EMAIL_BACKEND: str = _mail.get("EMAIL_BACKEND", "shopdocs.documents.mail.FolderBackend")
LETTER_FOLDER = env("LETTER_FOLDER") or str(VAR_DIR / "letters")
EMAIL_HOST = _mail.get("EMAIL_HOST") or "localhost"
EMAIL_PORT = _mail.get("EMAIL_PORT") or 25
EMAIL_HOST_USER = _mail.get("EMAIL_HOST_USER") or ""
EMAIL_HOST_PASSWORD = _mail.get("EMAIL_HOST_PASSWORD") or ""
EMAIL_USE_TLS = bool(_mail.get("EMAIL_USE_TLS"))
EMAIL_USE_SSL = bool(_mail.get("EMAIL_USE_SSL"))
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = LETTER_FROM = environment.sender("LETTER_FROM", env("LETTER_FROM"))

# The certificate of signed copies; empty: none are made.
SIGNING_PASSWORD: str = env("SIGNING_PASSWORD")
SIGNING_FILE = environment.signing("SIGNING_FILE", env("SIGNING_FILE"), SIGNING_PASSWORD)

MAX_UPLOAD_BYTES: int = env("MAX_UPLOAD_BYTES")
MAX_PIXELS: int = env("MAX_PIXELS")
MAX_PICTURE_MEMORY: int = env("MAX_PICTURE_MEMORY")
MIN_PICTURE_SIDE: int = env("MIN_PICTURE_SIDE")
MAX_TEXT_CHARS: int = env("MAX_TEXT_CHARS")
MAX_BODY_BYTES: int = env("MAX_BODY_BYTES")
DATA_UPLOAD_MAX_MEMORY_SIZE = MAX_BODY_BYTES
ANSWER_LINK_DAYS: int = env("ANSWER_LINK_DAYS")
SWEEP_SECONDS: int = env("SWEEP_SECONDS")
LEASE_SECONDS: int = env("LEASE_SECONDS")
MAX_ATTEMPTS: int = env("MAX_ATTEMPTS")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "shopdocs.rest.signin.ShopTokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["shopdocs.rest.permissions.RoleNeeded"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["shopdocs.rest.parsers.StrictJSONParser"],
    "DEFAULT_FILTER_BACKENDS": ["shopdocs.rest.filters.ScopedFilters"],
    "DEFAULT_PAGINATION_CLASS": "shopdocs.rest.paging.Pages",
    "PAGE_SIZE": 50,
    "EXCEPTION_HANDLER": "shopdocs.rest.errors.answer",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_THROTTLE_RATES": {"sign-in": environment.sign_in_rate("SIGN_IN_RATE", env("SIGN_IN_RATE"))},
    "COERCE_DECIMAL_TO_STRING": True,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Shopdocs",
    "VERSION": "1",
    "DESCRIPTION": "Repair orders, findings, coverage advice, estimates, claims and invoices of an outdoor power equipment "
    "shop. A coverage answer is advice: the maker or distributor decides.",
    "OAS_VERSION": "3.1.1",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    # Which fields a change must carry, its version above all, is what its serializer says.
    "COMPONENT_SPLIT_PATCH": False,
    "SORT_OPERATIONS": True,
    "ENUM_NAME_OVERRIDES": {
        "PayerEnum": "orders.models.jobs.Job.Payer",
        "CustomerKindEnum": "orders.models.people.Customer.Kind",
        "ProofKindEnum": "orders.models.units.PurchaseProof.Kind",
        "EstimateAskedEnum": "orders.models.orders.RepairOrder.EstimateAsked",
        "OrderStateEnum": "orders.models.orders.RepairOrder.State",
        "JobStateEnum": "orders.models.jobs.Job.State",
        "AttemptStateEnum": "shopdocs.documents.models.Attempted.State",
        "ClaimStateEnum": "warranty.models.claims.Claim.State",
        "ChannelEnum": "orders.models.estimates.Given.Channel",
        "StaffChannelEnum": "orders.services.given.BY_STAFF",
        "MeasuresEnum": "shopdocs.shops.models.Shop.Measures",
        "OptionKindEnum": "orders.models.estimates.EstimateOption.Kind",
        "LabourRoundingEnum": "orders.models.catalogue.LABOUR_ROUNDINGS",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "shopdocs.rest.schema.describe_errors",
    ],
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": environment.log_level("LOG_LEVEL", env("LOG_LEVEL"))},
    # One line per task received and one per task done is noise: the row says what became of it.
    "loggers": {
        name: {"level": "WARNING"}
        for name in (
            "celery.worker.strategy",
            "celery.worker.consumer.connection",
            "celery.app.trace",
            "pikepdf",
            "kombu.connection",
        )
    },
}
