"""The demo: invented clinic, mail into a folder with its own page, a clock that can be moved."""

from .base import *  # noqa: F403
from .base import DATA_DIR, STORAGES, env

DEBUG = env.bool("CARRYOVER_DEBUG", default=False)
IS_DEMO = True
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", "testserver"]
ALLOWED_HOSTS += env.list("ALLOWED_HOSTS", default=[])  # `demo --host` names its own here
EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
STORAGES = STORAGES | {
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
DEMO_CLOCK_FILE = DATA_DIR / "clock"
DEMO_PASSWORD = "carryover-demo-2026"
