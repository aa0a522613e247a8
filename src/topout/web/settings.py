"""Django's settings, one module; what may differ between workshops is read in `environment.py`."""

from __future__ import annotations

import ipaddress
import sqlite3
from pathlib import Path

from topout import shipped
from topout.web import environment, network

_outside = environment.read()
_here = Path(__file__).parent

_files = environment.files(_outside)
DATABASE_PATH, SECRET_FILE, PHOTOS = _files.database, _files.secret, _files.photos
BACKUPS, BACKUPS_NAMED = _files.backups, _files.backups_named
BACKUP_AT = _outside.time_of_day("TOPOUT_BACKUP_AT", "02:30")
BACKUP_KEEP = _outside.numbers("TOPOUT_BACKUP_KEEP", "7,5,12,10")
SECRET_KEY = environment.secret(SECRET_FILE)
PROCEDURES = (
    DATABASE_PATH.parent / "procedures"
)  # where a workshop puts texts of its own; read when an owner looks in it
BIND = _outside.address("TOPOUT_BIND", "127.0.0.1")
PORT = _outside.port("TOPOUT_PORT", 8000)
LOOPBACK = ipaddress.ip_address(BIND).is_loopback
DEMO = _outside.switch("TOPOUT_DEMO")
BEHIND_PROXY = _outside.switch("TOPOUT_BEHIND_PROXY")
NAMES = _outside.hosts("TOPOUT_HOSTS")
ALLOWED_HOSTS = network.allowed_hosts(BIND, NAMES, BEHIND_PROXY)
JOURNAL = _outside.choice("TOPOUT_JOURNAL", environment.journal(sqlite3.sqlite_version_info), ("wal", "delete"))
TIME_ZONE = _outside.time_zone("TOPOUT_TIME_ZONE", environment.zone_of_this_computer)
DEBUG = False

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "simple_history",
    "topout.web.access",
    "topout.web.book",
    "topout.web.shelf",
    "topout.web.workshop",
    "topout.web.jobs.records",
    "topout.web.jobs.search",
    "topout.web.demo",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "topout.web.headers.Headers",
    "topout.web.assets.Compressed",
    "topout.web.assets.Files",
    "topout.web.onward.Onward",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "topout.web.access.preferences.Preferences",
    "topout.web.access.gate.DemoHand",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "topout.web.unsaved.Stored",
]
ROOT_URLCONF = "topout.web.urls"
WSGI_APPLICATION = "topout.web.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [_here / "templates"],
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "topout.web.access.gate.for_templates",
                "topout.web.guide.views.for_templates",
            ],
            "libraries": {"warned": "topout.web.jobs.core.warned"},
        },
    }
]

DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(DATABASE_PATH),
        "CONN_MAX_AGE": None,
        "OPTIONS": {
            "timeout": 20,
            "transaction_mode": "IMMEDIATE",
            "init_command": environment.pragmas(JOURNAL),
        },
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 8}},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
PASSWORD_HASHERS = ["topout.web.access.hashing.BoundedArgon2"]
AUTHENTICATION_BACKENDS = ["topout.web.access.sessions.SignedIn"]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "bench"

SESSION_ENGINE = "topout.web.access.sessions"
SESSION_COOKIE_AGE = 12 * 3600  # a day at the bench, then the password again
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_PROXY
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "topout.web.faults.csrf_fault"
MESSAGE_STORAGE = "django.contrib.messages.storage.cookie.CookieStorage"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# `check --deploy` is clean but for these, each for one reason: the workshop is served as plain HTTP, on this machine or on its
# own network by an address, for which nobody gives out a certificate.
SILENCED_SYSTEM_CHECKS = [
    "security.W004",  # HSTS: a browser that once heard it would refuse the plain address ever after
    "security.W008",  # redirect to HTTPS: there is nothing to redirect to
    "security.W012",  # session cookie for HTTPS alone: over plain HTTP nobody could sign in
    "security.W016",  # CSRF cookie for HTTPS alone: over plain HTTP no form could be sent
]

DATA_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 400
DATA_UPLOAD_MAX_NUMBER_FILES = 8
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

USE_TZ = True
LANGUAGE_CODE = "en-gb"
USE_I18N = False
STATIC_URL = "/static/"
STATICFILES_DIRS = [_here / "static", ("guide", shipped.guide() / "pictures")]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "topout.web.assets.Names"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_ALLOW_ALL_ORIGINS = False  # no other site has a use for our files

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"()": "topout.web.log.Line", "format": "{asctime} {levelname} {name}: {message}", "style": "{"}
    },
    "handlers": {"terminal": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["terminal"], "level": "WARNING"},
    # Waitress says at each request how many wait for a thread: 440 lines at the terminal that help nobody.
    "loggers": {"waitress.queue": {"level": "ERROR"}},
}
