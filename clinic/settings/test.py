"""The test suite: cheap password hashing, mail kept in memory, a real Redis protocol server."""

from .base import *  # noqa: F403
from .base import ACCOUNT_RATE_LIMITS, REST_FRAMEWORK, STORAGES

ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STORAGES = STORAGES | {
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
# Many journeys sign in from one address; the limits have a test of their own.
ACCOUNT_RATE_LIMITS = dict.fromkeys(ACCOUNT_RATE_LIMITS, "100000/m/ip")
REST_FRAMEWORK = REST_FRAMEWORK | {"DEFAULT_THROTTLE_RATES": {"user": "1000000/min"}}
