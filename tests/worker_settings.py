"""The demo's settings for a worker of the tests, with the mail server that the test names."""

from clinic.settings.demo import *  # noqa: F403
from clinic.settings.demo import EMAIL_BACKEND as USUAL
from clinic.settings.demo import env

EMAIL_BACKEND = env.str("TEST_EMAIL_BACKEND", default=USUAL)
