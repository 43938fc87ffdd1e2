"""Everything the deployments share; the modules beside this one change only what differs."""

from __future__ import annotations

import os
import zoneinfo
from pathlib import Path
from typing import Any

import environ
from celery.schedules import crontab
from csp.constants import NONE, SELF

# One zone source, here and in child processes: the tzdata package. System files lag behind it,
# and two sources disagree about when a day begins.
os.environ["PYTHONTZPATH"] = ""
zoneinfo.reset_tzpath(to=())

BASE_DIR = Path(__file__).resolve().parent.parent.parent
DATA_DIR = Path(os.environ.get("CARRYOVER_DATA", BASE_DIR / ".carryover"))
env = environ.Env()

SECRET_KEY = env.str(
    "SECRET_KEY", default="development-only-not-a-secret-0123456789abcdefghijklmnop"
)
DEBUG = False
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", default=[])
SITE_URL = env.str("SITE_URL", default="http://127.0.0.1:8000")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "crispy_forms",
    "rest_framework",
    "drf_spectacular",
    "shared",
    "clinic",
    "programs",
    "adherence",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_permissions_policy.PermissionsPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "clinic.middleware.ViewerMiddleware",
]

ROOT_URLCONF = "clinic.urls"
WSGI_APPLICATION = "clinic.wsgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clinic.context_processors.page",
            ],
            "builtins": ["shared.templatetags.design"],
        },
    }
]

_SQLITE = f"sqlite:///{DATA_DIR / 'db.sqlite3'}"
DATABASES = {"default": env.db("DATABASE_URL", default=_SQLITE)}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Deferred transactions fail at once with "database is locked" when two
    # writers meet; IMMEDIATE waits its turn.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env.str("REDIS_URL", default="redis://127.0.0.1:6379/0")
CACHES = {
    "default": {
        "BACKEND": "shared.cache.SteadyCache",  # requests go on while Redis is away
        "LOCATION": REDIS_URL,
        "KEY_PREFIX": "carryover",
        "OPTIONS": {"socket_connect_timeout": 1, "socket_timeout": 1},
    }
}

AUTH_USER_MODEL = "clinic.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["email", "name"]},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"
PASSWORD_RESET_TIMEOUT = 3600

ACCOUNT_ADAPTER = "clinic.accounts_adapter.InvitationOnlyAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "none"  # the invitation link has proven the address
ACCOUNT_FORMS = {
    "login": "clinic.forms.SignInForm",
    "reset_password": "clinic.forms.ForgottenPasswordForm",
    "reset_password_from_key": "clinic.forms.NewPasswordForm",
    "change_password": "clinic.forms.OtherPasswordForm",
}
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_RATE_LIMITS = {
    "login": "30/m/ip",
    "login_failed": "10/m/ip,5/5m/key",
    "reset_password": "20/m/ip,5/m/key",
}

SESSION_COOKIE_AGE = 60 * 60 * 12
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = False  # the logging script reads it to send the header
CSRF_FAILURE_VIEW = "clinic.views.problems.csrf_failure"
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
# Not "no-referrer": browsers then send "Origin: null" with a form, and every POST is refused.
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
PERMISSIONS_POLICY: dict[str, Any] = {
    "camera": [],
    "microphone": [],
    "geolocation": [],
    "payment": [],
    "usb": [],
    "screen-wake-lock": "self",
}
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "object-src": [NONE],
    }
}

LANGUAGE_CODE = "en"
TIME_ZONE = "UTC"
USE_I18N = True
FORMAT_MODULE_PATH = ["shared.formats"]
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "staticfiles"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "shared.staticfiles.ModuleManifestStorage"},
}

EMAIL_FILE_PATH = DATA_DIR / "mailbox"
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="Carryover <carryover@clinic.example>")

CRISPY_ALLOWED_TEMPLATE_PACKS = "forms"
CRISPY_TEMPLATE_PACK = "forms"
CRISPY_FAIL_SILENTLY = False

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["shared.http.SteadyJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 50,
    "DEFAULT_THROTTLE_CLASSES": ["rest_framework.throttling.UserRateThrottle"],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min"},
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "shared.http.problem_handler",
    "NUM_PROXIES": env.int("NUM_PROXIES", default=0),
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Carryover",
    "DESCRIPTION": "What the browser uses, and a read-only first set for records.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["clinic.access.IsStaffMember"],
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "shared.http.tell_problems",
    ],
    # Sets of codes by the names that the project gives them, where a field's name is not enough.
    "ENUM_NAME_OVERRIDES": {
        "DoseKind": "programs.rules.dose.DoseKind",
        "FlagKind": "adherence.rules.flags.FlagKind",
        "LoadUnit": "programs.rules.dose.LoadUnit",
        "Side": "programs.rules.dose.Side",
        "ProgramStatus": "programs.models.ProgramStatus",
        "SessionStatus": "adherence.api.serializers.STATUSES",
        "FlagStatus": "adherence.models.FlagStatus",
    },
}

CELERY_BROKER_URL = REDIS_URL
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 300,
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 5,
    # A server that hangs must not hang a request: longer than the worker's own wait of a second.
    "socket_connect_timeout": 2,
    "socket_timeout": 5,
}
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # a worker waits for its broker as long as it takes
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = "json"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_TIME_LIMIT = 240  # ends before the broker gives the task to somebody else
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_PUBLISH_RETRY_POLICY = {"max_retries": 1, "interval_start": 0, "interval_max": 0.2}
CELERY_TIMEZONE = "UTC"  # every local-time decision is ours, in the patient's zone
# A bell that nobody heard is stale when the next one rings: a worker that was away for a night
# finds one sweep to do, not hundreds.
CELERY_BEAT_SCHEDULE = {
    "send-due-reminders": {
        "task": "adherence.send_due_reminders",
        "schedule": crontab(),  # each minute: reminders promise the minute
        "options": {"expires": 55},
    },
    "review-flags": {
        "task": "adherence.review_flags",
        "schedule": crontab(),  # new entries, and each local day that has closed
        "options": {"expires": 55},
    },
}

# A clock that can be moved exists only where a file is named for it (demo settings).
DEMO_CLOCK_FILE: Path | None = None
DEMO_PASSWORD = ""
IS_DEMO = False

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
}
