"""A real deployment: everything secret or local comes from the environment, and is required."""

from .base import *  # noqa: F403
from .base import REST_FRAMEWORK, env

SECRET_KEY = env.str("SECRET_KEY")
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS")
SITE_URL = env.str("SITE_URL")
REDIS_URL = env.str("REDIS_URL")
env.str("DATABASE_URL")  # what follows from it stands in the settings that all share
vars().update(env.email_url("EMAIL_URL"))

# Sign-in is limited by address. Without it everybody behind a proxy has the proxy's, and the wrong
# passwords of one stranger shut all of them out.
ALLAUTH_TRUSTED_PROXY_COUNT = REST_FRAMEWORK["NUM_PROXIES"]

SECURE_SSL_REDIRECT = True
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
# The probes of a load balancer speak plain HTTP inside the network.
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-sessionid"
CSRF_COOKIE_SECURE = True
CSRF_COOKIE_NAME = "__Host-csrftoken"
