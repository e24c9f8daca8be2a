"""The one settings file: every value that differs by place comes from the environment.

Read by name: DATABASE_URL, SECRET_KEY, DEBUG, ALLOWED_HOSTS, CSRF_TRUSTED_ORIGINS,
and FLEET_HTTPS, FLEET_BEHIND_PROXY, FLEET_DB_POOL, FLEET_HSTS_SECONDS,
FLEET_LOG_LEVEL, FLEET_TEST_DB, FLEET_TIME_ZONE. README.md says what each does.
"""

from datetime import timedelta
from pathlib import Path

import django_stubs_ext
from csp.constants import NONE, SELF
from environ import Env

from fleet.config.database import database
from fleet.config.secret import kept_secret

# Django's own form and admin classes cannot be subscripted at run time; strict types
# need it (`ModelAdmin[Vehicle]`).
django_stubs_ext.monkeypatch()

BASE_DIR = Path(__file__).resolve().parent.parent.parent
env = Env()

DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret(BASE_DIR / ".secret_key")
ALLOWED_HOSTS = [
    "localhost",
    "127.0.0.1",
    "[::1]",
    *env.list("ALLOWED_HOSTS", default=[]),
]
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

# Apps ------------------------------------------------------------------------------
INSTALLED_APPS = [
    # Before contrib.auth and the tool apps, so that the commands and templates of
    # this project come first where a name is used twice.
    "fleet.config",
    "fleet.web",
    "fleet.reports",
    "fleet.workshop",
    "fleet.fitness",
    "fleet.upkeep",
    "fleet.defects",
    "fleet.examination",
    "fleet.register",
    "fleet.people",
    "fleet.records",
    "fleet.ui",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "axes",
    "django_filters",
    "django_htmx",
    "django_tables2",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "fleet.config.urls"
WSGI_APPLICATION = "fleet.config.wsgi.application"
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
            ],
        },
    },
]
FORM_RENDERER = "fleet.ui.forms.RegisterRenderer"
CSRF_FAILURE_VIEW = "fleet.ui.errors.csrf_failure"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# Data ------------------------------------------------------------------------------
# No ATOMIC_REQUESTS: with IMMEDIATE every page that only reads would queue behind
# the writers. Each service opens its own transaction.
DATABASES = {"default": database(env, home=BASE_DIR)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# People ----------------------------------------------------------------------------
AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "people:sign-in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "people:sign-in"
# By person and address together: a depot sits behind one address, and one forgetful
# hand must not lock out everybody else.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_CALLABLE = "fleet.people.views.locked_out"
# A second wrong guess while locked must not start the quarter of an hour again.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
SESSION_COOKIE_AGE = int(timedelta(hours=12).total_seconds())

# The wire --------------------------------------------------------------------------
HTTPS = env.bool("FLEET_HTTPS", default=False)
SECURE_SSL_REDIRECT = HTTPS
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_HSTS_SECONDS = env.int("FLEET_HSTS_SECONDS", default=2_592_000) if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if env.bool("FLEET_BEHIND_PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# W021 asks to enter the host in the browsers' own lists, which binds a railway's
# whole domain for months: theirs to decide, not the register's.
SILENCED_SYSTEM_CHECKS = ["security.W021"]
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    },
}

# Files that never change while serving ---------------------------------------------
STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "var" / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
# Hashed names need `collectstatic`; a demo or a test must run without that step.
WHITENOISE_USE_FINDERS = not HTTPS
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if HTTPS
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        ),
    },
}

# Words and hours -------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
TIME_ZONE = env.str("FLEET_TIME_ZONE", default="Europe/London")
USE_TZ = True

# What is written down while it runs ------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {
        "handlers": ["console"],
        "level": env.str("FLEET_LOG_LEVEL", default="WARNING"),
    },
    # Django's own handlers mail the administrators and print twice.
    "loggers": {"django": {"handlers": [], "propagate": True}},
}
