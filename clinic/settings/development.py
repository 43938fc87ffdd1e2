"""A developer's machine: debug pages, mail into a folder."""

from .base import *  # noqa: F403
from .base import DATA_DIR, STORAGES

DEBUG = True
DATA_DIR.mkdir(parents=True, exist_ok=True)  # the first migrate finds a place for its database
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
STORAGES = STORAGES | {
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
}
