"""Settings. Every knob comes from the environment; each has a unit and a default here."""

from __future__ import annotations

import os
from datetime import timedelta
from ipaddress import ip_network
from pathlib import Path
from typing import Any

from environs import Env, validate

from stockplan.api_versions import CURRENT, VERSIONS

# The forecast's matrices are small: threads of the linear algebra would wait for each other instead of working, for
# minutes where something else keeps the cores busy. It is read when numpy is, which is after this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

env = Env()
BASE_DIR = Path(__file__).resolve().parent.parent

DEBUG: bool = env.bool("STOCKPLAN_DEBUG", default=False)
# No start without a secret key outside DEBUG: environs raises and names the variable.
SECRET_KEY: str = (
    env.str("STOCKPLAN_SECRET_KEY", default="only-for-debug")
    if DEBUG
    else env.str("STOCKPLAN_SECRET_KEY", validate=validate.Regexp(r"\s*\S", error="must not be empty"))
)
ALLOWED_HOSTS: list[str] = env.list("STOCKPLAN_ALLOWED_HOSTS", default=["localhost", "127.0.0.1"])
CSRF_FAILURE_VIEW = "stockplan.planner.pages.faults.too_old"
CSRF_TRUSTED_ORIGINS: list[str] = env.list("STOCKPLAN_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "stockplan.apps.RecordsConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "drf_standardized_errors",
    "import_export",
    "knox",
    "axes",
    "csp",
    # Only its models and checks of codes: the log-in form asks for them (access/log_in_form.py).
    "django_otp",
    "django_otp.plugins.otp_totp",
    "inventory",
    "stockplan.access",
    "stockplan.planner",
]

MIDDLEWARE = [
    # First, so that whatever the others log carries the name of the request.
    "stockplan.request_ids.RequestIdMiddleware",
    "stockplan.version_headers.VersionMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "stockplan.access.session_end.SessionEndMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "stockplan.urls"
WSGI_APPLICATION = "stockplan.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "stockplan" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

# SQLite takes its write lock at BEGIN (IMMEDIATE): a read-then-write transaction can then wait for the lock
# instead of failing. synchronous FULL: an acknowledged order survives a power cut.
SQLITE_OPTIONS: dict[str, Any] = {
    "timeout": 20,
    "transaction_mode": "IMMEDIATE",
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
}
# A worker keeps its connection, as opening one costs more than most requests, and looks before each request whether
# the server still holds it.
DATABASES: dict[str, dict[str, Any]] = {
    "default": env.dj_db_url(
        "DATABASE_URL",
        default=f"sqlite:///{BASE_DIR / 'var' / 'stockplan.sqlite3'}",
        conn_max_age=600,
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"].setdefault("OPTIONS", {}).update(SQLITE_OPTIONS)

AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "stockplan.access.passwords.MaximumLengthValidator", "OPTIONS": {"max_length": 128}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
OTP_TOTP_ISSUER = "stockplan"
LOGIN_URL = "admin:login"
LOGIN_REDIRECT_URL = "admin:index"

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request_id": {"()": "stockplan.request_ids.RequestIdFilter"}},
    "formatters": {"line": {"format": "{asctime} {levelname} [{request_id}] {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["request_id"], "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # Through the root alone: its own handlers would say everything twice, once without the name.
    "loggers": {"django": {"handlers": [], "level": "WARNING"}},
}

LANGUAGE_CODE = "en"
USE_I18N = True
# A browser gets the first of these that it asks for. Only what `stockplan/locale` holds in full belongs here, else the
# pages would mix two languages: `makemessages -l de` writes the texts of another one.
LANGUAGES: list[tuple[str, str]] = [(code, code) for code in env.list("STOCKPLAN_LANGUAGES", default=["en"])]
LOCALE_PATHS = [BASE_DIR / "stockplan" / "locale"]
USE_TZ = True
FORMAT_MODULE_PATH = "stockplan.formats"
# Pages show the plant's zone (stored in its parameters); this is only the zone of naive input to Django itself.
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "staticfiles"
STATICFILES_DIRS = [BASE_DIR / "stockplan" / "static"]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

KNOX_TOKEN_MODEL = "access.ApiToken"
# Its migrations would create the table of the model that ours replaces; nothing would ever empty or use it.
MIGRATION_MODULES: dict[str, str | None] = {"knox": None}
REST_KNOX = {"TOKEN_TTL": timedelta(days=365), "TOKEN_MODEL": "access.ApiToken", "AUTH_HEADER_PREFIX": "Bearer"}
# Of a token that has no limit of its own; a minute's worth may come at once. More than two workers answer: it stops
# what ran wild, and slows no import of orders. A limit that a plant wants for one integration stands at its token.
REQUESTS_PER_MINUTE: int = env.int(
    "STOCKPLAN_REQUESTS_PER_MINUTE", default=60_000, validate=validate.Range(min=1, max=1_000_000)
)

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "stockplan.access.authentication.ApiTokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["stockplan.access.permissions.HasScope"],
    "DEFAULT_THROTTLE_CLASSES": ["stockplan.access.throttling.TokenThrottle"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_VERSIONING_CLASS": "rest_framework.versioning.URLPathVersioning",
    "DEFAULT_VERSION": CURRENT,
    "ALLOWED_VERSIONS": list(VERSIONS),
    "DEFAULT_SCHEMA_CLASS": "stockplan.api_schema.ProblemAutoSchema",
    "EXCEPTION_HANDLER": "stockplan.api_errors.problem_handler",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "stockplan",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    # Four records have a field named state, and two a reason; each list gets a name of its own.
    "ENUM_NAME_OVERRIDES": {
        "OrderState": "inventory.models.orders.Order.State",
        "OrderKind": "inventory.models.orders.Order.Kind",
        "OrderedKind": "inventory.api.orders.serializers.ORDERED_KINDS",
        "RunState": "inventory.models.runs.Run.State",
        "CountLineState": "inventory.models.counting.CountLine.State",
        "StopReason": "inventory.models.run_stops.RunStop.Reason",
        "MissReason": "inventory.api.service.serializers.MISS_REASONS",
        "MakeListState": "stockplan.planner.models.MakeList.State",
    },
}
# Signing secrets of webhooks are derived from it: whoever changes it changes them all.
WEBHOOK_KEY: str = env.str("STOCKPLAN_WEBHOOK_KEY", default=SECRET_KEY)
# Networks beside the public internet that webhooks may go to, as 10.0.0.0/8; there http is allowed as well.
_WEBHOOK_NETWORKS: list[str] = env.list("STOCKPLAN_WEBHOOK_NETWORKS", default=[])
WEBHOOK_NETWORKS = [ip_network(text) for text in _WEBHOOK_NETWORKS]
# The books ask this function which day capacity could give where nothing is planned; they do not import the planner.
EARLIEST_CAPACITY_DAY = "stockplan.planner.selectors.capacity.earliest_capacity_days"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "form-action": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "frame-ancestors": ["'none'"],
        "base-uri": ["'none'"],
    }
}
SESSION_COOKIE_HTTPONLY = True
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
SECURE_SSL_REDIRECT: bool = env.bool("STOCKPLAN_HTTPS", default=False)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT
# Behind TLS no other host and no plain connection can set these cookies (RFC 6265bis, 4.1.3.2).
_COOKIE_PREFIX = "__Host-" if SECURE_SSL_REDIRECT else ""
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = f"{_COOKIE_PREFIX}sessionid", f"{_COOKIE_PREFIX}csrftoken"
# A shift and its hand-over: whoever works on logs in again.
SESSION_COOKIE_AGE: int = env.int("STOCKPLAN_SESSION_HOURS", default=12) * 3600
# Of those who work at a desk; at a line a log-in lasts as long as it may (access/session_end.py).
SESSION_IDLE_MINUTES: int = env.int("STOCKPLAN_SESSION_IDLE_MINUTES", default=30, validate=validate.Range(min=1))
SECURE_HSTS_SECONDS: int = env.int("STOCKPLAN_HSTS_SECONDS", default=0)
# For every host below this one as well, and for the lists that browsers bring along: only where all of them speak TLS.
SECURE_HSTS_INCLUDE_SUBDOMAINS: bool = env.bool("STOCKPLAN_HSTS_SUBDOMAINS", default=False)
SECURE_HSTS_PRELOAD = SECURE_HSTS_INCLUDE_SUBDOMAINS
