"""Django settings. What differs from one utility to another comes from the environment (`config.env`)."""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from config import env

try:
    _env = env.read(os.environ)
except env.Unfit as unfit:
    raise ImproperlyConfigured(str(unfit)) from None

BASE_DIR = Path(__file__).resolve().parent.parent

UTILITY_NAME = _env.utility_name
PUBLIC_URL = _env.public_url
NOTICE_FROM = _env.notice_from
DEMO = _env.demo
# The utility's own clauses by name, laid over the federal ones.
CLAUSES = _env.clauses or {}

DEBUG = False
SECRET_KEY = _env.secret_key
# 127.0.0.1 is for the health check from inside a container.
ALLOWED_HOSTS = [*_env.allowed_hosts, "127.0.0.1"]
ROOT_URLCONF = "config.urls"
ASGI_APPLICATION = "config.asgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "django_htmx",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "circuits",
    "notifications",
    "clearances",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "servestatic.middleware.ServeStaticMiddleware",
    "config.security.headers",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clearances.context.board",
            ],
        },
    },
]

DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.postgresql",
        "HOST": _env.database_url.host,
        "PORT": _env.database_url.port,
        "USER": _env.database_url.user,
        "PASSWORD": _env.database_url.password,
        "NAME": _env.database_url.path,
        # Under ASGI a kept connection would belong to a thread that may never serve again: the pool keeps
        # them.
        "CONN_MAX_AGE": 0,
        "OPTIONS": {"connect_timeout": 5, "pool": {"min_size": 1, "max_size": 16, "timeout": 10}},
    },
}

# What circuits and notifications must ask upward, by name, since they don't know clearances.
NOTICE_STILL_TRUE = "clearances.notices.still_true"
NETWORK_MAY_LOOK = "clearances.rooms.may_look"
NETWORK_MARKS = "clearances.network.marks"
NETWORK_TAGS_ON = "clearances.hanging.tags_on"
NETWORK_STANDING_ON = "clearances.network.standing_on"
NETWORK_HIT_BY_CLOSING = "clearances.closing.asked_first"
NETWORK_IN_THE_WAY = "clearances.others.in_the_way"
NETWORK_MAY_IMPORT = "clearances.network.may_import"
NETWORK_IMPORTED = "clearances.network.imported"
NETWORK_MAY_CHANGE = "clearances.rooms.may_change_network"
# How long the answer of somebody under a hot-line hold counts for an order (common practice): it is to be a
# live one.
HOLD_ANSWER_MINUTES = 15
NOTICE_SWEEP_SECONDS = 30
# How long a worker may have a notice in hand. With a sweep it must fit into the task's soft time limit.
NOTICE_LEASE_SECONDS = 60

AUTH_USER_MODEL = "clearances.Person"
AUTHENTICATION_BACKENDS = ["clearances.signing_in.Backend"]
LOGIN_URL = "/sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

# One shift.
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"

# Everything that needs https is on wherever the board is reached over https; plain http is only for this
# machine.
_https = PUBLIC_URL.startswith("https://")
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
SESSION_COOKIE_SECURE = _https
CSRF_COOKIE_SECURE = _https
SECURE_SSL_REDIRECT = _https
SECURE_REDIRECT_EXEMPT = [r"^health$"]
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if _https else 0
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

FORM_RENDERER = "config.forms.BoardRenderer"

USE_TZ = True
TIME_ZONE = _env.utility_time_zone
LANGUAGE_CODE = "en-us"
USE_I18N = False
# 24-hour local time, everywhere.
DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y H:i"
SHORT_DATE_FORMAT = "j M"
SHORT_DATETIME_FORMAT = "j M H:i"

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "config.front.MapLibre",
]
# Files are served from where they lie, ours and those in the wheels: nothing is collected.
SERVESTATIC_USE_FINDERS = True
SERVESTATIC_AUTOREFRESH = False

EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
EMAIL_HOST = _env.email_url.host
EMAIL_PORT = _env.email_url.port
EMAIL_HOST_USER = _env.email_url.user
EMAIL_HOST_PASSWORD = _env.email_url.password
EMAIL_USE_SSL = _env.email_url.scheme == "smtps"
EMAIL_USE_TLS = _env.email_url.scheme == "smtp+starttls"
EMAIL_TIMEOUT = 15
DEFAULT_FROM_EMAIL = NOTICE_FROM

CELERY_BROKER_URL = _env.redis_url
# A worker killed half-way leaves its message to the next one; what it did is settled in PostgreSQL.
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SOFT_TIME_LIMIT = 100
CELERY_TASK_TIME_LIMIT = 120
CELERY_BROKER_TRANSPORT_OPTIONS = {
    # Above the time limit, or a task that still runs would be handed out a second time.
    "visibility_timeout": 300,
    "socket_connect_timeout": 2,
    "socket_timeout": 5,
}
CELERY_BROKER_CONNECTION_TIMEOUT = 2
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# A web request that could not wake a worker goes on: the worker's sweep finds the row.
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = TIME_ZONE
CELERY_BEAT_SCHEDULE = {
    "heartbeat": {"task": "notifications.tasks.heartbeat", "schedule": 15},
    "flags": {"task": "clearances.tasks.check_flags", "schedule": 60},
    "packages": {"task": "circuits.tasks.take_in", "schedule": 60},
}

REST_FRAMEWORK = {
    # The token's first, because its refusal is a 401; the session's would be a 403.
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["clearances.api.permissions.HasRole"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["clearances.api.parsing.Body"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "PAGE_SIZE": 100,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Outage and clearance board",
    "DESCRIPTION": (
        "Everything that the pages do, under the same roles, rules and refusals. Nothing here makes a line "
        "de-energized: the board knows only what was reported. A session cookie (with its CSRF token) or a "
        "token says who you are. An act has a key of its own; the same key sent again changes nothing."
    ),
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SCHEMA_PATH_PREFIX": "/api/v1",
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
}
