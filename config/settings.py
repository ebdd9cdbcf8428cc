"""Settings, all from the environment, with defaults that are safe to run for real.

POURBACK_DEBUG=1           developers only; off unless asked
POURBACK_SECRET_KEY        required unless POURBACK_DEMO=1, which generates one
POURBACK_DATABASE_URL      a PostgreSQL or SQLite URL; without it, SQLite in var/
POURBACK_HOSTS             comma-separated host names
POURBACK_ORIGINS           comma-separated origins trusted for forms, e.g. https://yard.example
POURBACK_BEHIND_PROXY=1    trust X-Forwarded-Proto; only behind a proxy that strips it from outside
POURBACK_INSECURE=1        plain HTTP on a trusted machine (the demo on localhost)
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent


def _flag(name: str) -> bool:
    return os.environ.get(name, "").strip().lower() in {"1", "true", "yes", "on"}


def _list(name: str, default: str = "") -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


DEBUG = _flag("POURBACK_DEBUG")
DEMO = _flag("POURBACK_DEMO")
INSECURE = DEBUG or _flag("POURBACK_INSECURE")
VAR_DIR = Path(os.environ.get("POURBACK_VAR", BASE_DIR / "var"))


def _demo_key() -> str:
    """One key per demo folder, so that signing in survives a restart and no key is ever shared."""
    path = VAR_DIR / "demo-secret-key"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(secrets.token_urlsafe(50))
        path.chmod(0o600)
    return path.read_text()


SECRET_KEY = os.environ.get("POURBACK_SECRET_KEY", "")
if not SECRET_KEY:
    if not (DEMO or DEBUG):
        raise ImproperlyConfigured(
            "Set POURBACK_SECRET_KEY to a long random string (or POURBACK_DEMO=1 to try Pourback out)."
        )
    SECRET_KEY = _demo_key()

ALLOWED_HOSTS = _list("POURBACK_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = _list("POURBACK_ORIGINS")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "axes",
    "csp",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "django_tasks",
    "django_tasks_db",
    "inventory",
    "jobs",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "config.headers.permissions_policy",
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

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
ASGI_APPLICATION = "config.asgi.application"

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
            "builtins": ["inventory.views.markup", "inventory.views.markup_gear", "jobs.views.markup_money"],
        },
    },
]

# A phone's acknowledged scan must survive a power cut, so SQLite syncs fully; IMMEDIATE takes the write lock
# at BEGIN, so that read-then-write cannot fail half-way with a stale snapshot.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA busy_timeout=20000; "
        "PRAGMA recursive_triggers=ON; PRAGMA foreign_keys=ON; PRAGMA cache_size=-32000; PRAGMA mmap_size=134217728;"
    ),
}
_database = dj_database_url.parse(
    os.environ.get("POURBACK_DATABASE_URL", f"sqlite:///{VAR_DIR / 'pourback.sqlite3'}"), conn_max_age=60
)
if "sqlite" in _database["ENGINE"]:
    _database["OPTIONS"] = SQLITE_OPTIONS
    Path(_database["NAME"]).parent.mkdir(parents=True, exist_ok=True)
DATABASES = {"default": _database}
FILTERS_EMPTY_CHOICE_LABEL = "any"
FILTERS_VERBOSE_LOOKUPS = {
    "exact": "",
    "gte": "(from)",
    "gt": "(after)",
    "lte": "(until)",
    "lt": "(before)",
    "contains": "contains",
    "icontains": "contains",
    "startswith": "starts with",
    "istartswith": "starts with",
    "isnull": "is empty",
    "in": "is one of",
}
FORM_RENDERER = "config.form_look.FormLook"
CSRF_FAILURE_VIEW = "inventory.views.errors.form_expired"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours; the page that says so says 15 minutes
AXES_LOCKOUT_CALLABLE = "inventory.views.account.locked_out"
AXES_RESET_ON_SUCCESS = True
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "board"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("POURBACK_TIME_ZONE", "UTC")
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = Path(os.environ.get("POURBACK_STATIC_ROOT", BASE_DIR / "static-built"))
STATICFILES_DIRS = [
    path
    for path in (
        ("pourback", BASE_DIR / "templates" / "assets"),
        ("zxing", BASE_DIR / "node_modules" / "zxing-wasm" / "dist" / "iife" / "reader"),
        ("zxing", BASE_DIR / "node_modules" / "zxing-wasm" / "dist" / "reader"),
    )
    if path[1].is_dir()
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "config.static_names.HashedStatic"},
}
MEDIA_ROOT = VAR_DIR / "photos"  # outside the web root; photos are served by a view that asks who is looking
MEDIA_URL = "/nowhere/"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF, "'wasm-unsafe-eval'"],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "media-src": [SELF, "blob:"],
        "worker-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30  # a yard phone should not sign itself out in the middle of a month
SESSION_COOKIE_SECURE = not INSECURE
CSRF_COOKIE_SECURE = not INSECURE
SECURE_SSL_REDIRECT = not INSECURE
# Not in the demo: a browser would go on refusing plain HTTP on localhost after it is gone.
SECURE_HSTS_SECONDS = 0 if INSECURE or DEMO else 60 * 60 * 24 * 365
SECURE_HSTS_INCLUDE_SUBDOMAINS = not INSECURE
SECURE_HSTS_PRELOAD = not INSECURE
SECURE_REFERRER_POLICY = "same-origin"
if _flag("POURBACK_BEHIND_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
DATA_UPLOAD_MAX_MEMORY_SIZE = 8 * 1024 * 1024

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname:<7} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": os.environ.get("POURBACK_LOG_LEVEL", "INFO")},
    "loggers": {"axes": {"level": "WARNING"}, "django.tasks": {"level": "WARNING"}},
}
