"""Settings of one installation, checked when they are read.

Everything that differs between installations comes from environment variables; DEVELOPERS.md
lists them. Without any, one folder (`var`) holds the database, the pictures, the logs and the keys.
"""

import tempfile
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from landscape_care.config import variables
from landscape_care.config.keys import field_key, own_keys

BASE_DIR = Path(__file__).resolve().parent.parent.parent
MODE = variables.one_of("LANDSCAPE_CARE_MODE", ("local", "production", "test"))
PRODUCTION = MODE == "production"
DEBUG = variables.switch("DEBUG")
if DEBUG and PRODUCTION:
    raise ImproperlyConfigured("DEBUG is 1 in production: it would show secrets to strangers; unset it")

# --- Where things lie -------------------------------------------------------------------------

DATA_FOLDER = Path(variables.text("LANDSCAPE_CARE_DATA", str(BASE_DIR / "var"))).absolute()
LOG_FOLDER = DATA_FOLDER / "logs"
RUN_FOLDER = DATA_FOLDER / "run"
MEDIA_ROOT = DATA_FOLDER / "media"
MEDIA_URL = "media/"
try:
    for folder in (DATA_FOLDER, LOG_FOLDER, RUN_FOLDER, MEDIA_ROOT, DATA_FOLDER / "static"):
        folder.mkdir(mode=0o750, parents=True, exist_ok=True)
    with tempfile.TemporaryFile(dir=DATA_FOLDER):
        pass
except OSError as refused:
    raise ImproperlyConfigured(
        f"{DATA_FOLDER} cannot be written ({refused.strerror}): "
        "name another folder in LANDSCAPE_CARE_DATA or change its owner"
    ) from refused

# --- Keys -------------------------------------------------------------------------------------

if PRODUCTION:
    _why = "production keeps its keys outside the data folder"
    SECRET_KEY = variables.demanded("SECRET_KEY", _why)
    FIELD_KEY = field_key(variables.demanded("FIELD_KEY", _why))
    ALLOWED_HOSTS = variables.words("ALLOWED_HOSTS")
    if not ALLOWED_HOSTS:
        raise ImproperlyConfigured("ALLOWED_HOSTS is not set: name the hosts you serve, with commas between")
else:
    _own = own_keys(DATA_FOLDER / "secrets.json")
    SECRET_KEY = variables.text("SECRET_KEY", _own["secret"])
    FIELD_KEY = field_key(variables.text("FIELD_KEY", _own["field"]))
    ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *variables.words("ALLOWED_HOSTS")]

# --- Rooms ------------------------------------------------------------------------------------

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "csp",
    "django_htmx",
    "django_filters",
    "rest_framework",
    "drf_spectacular",
    "landscape_care.people",
    "landscape_care.properties",
    "landscape_care.care",
    "landscape_care.visits",
    "landscape_care.dispatch",
    "landscape_care.calendars",
    "landscape_care.api",
    "landscape_care.pages",
    "landscape_care.config",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "landscape_care.calendars.straight.StraightToCalendars",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "landscape_care.config.middleware.SayWhenUnavailable",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]
ROOT_URLCONF = "landscape_care.config.urls"
WSGI_APPLICATION = "landscape_care.config.wsgi.application"
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

if PRODUCTION:
    SITE_URL = variables.site(variables.demanded("SITE_URL", "calendars and letters name it"))
else:
    SITE_URL = variables.site(variables.text("SITE_URL", "http://127.0.0.1:8000"))
CSRF_TRUSTED_ORIGINS = [SITE_URL]

# --- Database, cache, sessions ----------------------------------------------------------------
# Cache and sessions lie in the database, so that a broker that is away disturbs no page.

_database_url = variables.text("DATABASE_URL")
DATABASES = {
    "default": variables.postgres(_database_url)
    if _database_url
    else variables.sqlite(DATA_FOLDER / "db.sqlite3")
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "cached_rows",
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    }
}
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_AGE = 14 * 24 * 3600

# --- People and languages ---------------------------------------------------------------------

AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = ["landscape_care.people.entrance.PatientBackend"]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/sign-in/"
_validation = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"{_validation}.UserAttributeSimilarityValidator"},
    {"NAME": f"{_validation}.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": f"{_validation}.CommonPasswordValidator"},
    {"NAME": f"{_validation}.NumericPasswordValidator"},
]
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "landscape_care" / "pages" / "locale"]
USE_TZ = True
TIME_ZONE = "UTC"

# --- Files ------------------------------------------------------------------------------------

STATIC_URL = "/static/"
STATIC_ROOT = BASE_DIR / "staticfiles" if PRODUCTION else DATA_FOLDER / "static"
WHITENOISE_USE_FINDERS = not PRODUCTION
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
FILE_UPLOAD_PERMISSIONS = 0o640
DATA_UPLOAD_MAX_MEMORY_SIZE = 13 * 1024 * 1024

# --- Security ---------------------------------------------------------------------------------

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
if PRODUCTION:
    SESSION_COOKIE_NAME = "__Host-session"
    CSRF_COOKIE_NAME = "__Host-csrf"
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = variables.switch("REDIRECT_TO_HTTPS", otherwise=True)
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    # A probe from inside the house speaks plain HTTP.
    SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz(/background)?$"]
    if variables.switch("BEHIND_PROXY"):
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
if MODE == "test":
    # Slow hashes protect real passwords; in tests they would only cost minutes.
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# --- API --------------------------------------------------------------------------------------

REST_FRAMEWORK: dict[str, Any] = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 50,
}
SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Landscape Care",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    # Choices stay where they are used, so that nothing has to name them (see api.description).
    "POSTPROCESSING_HOOKS": [],
}

# --- Background work --------------------------------------------------------------------------
# A call that was lost with its worker is delivered again after the visibility timeout; the time
# limit stays below it, so that the same call never runs twice at once.

REDIS_URL = variables.text("REDIS_URL", f"unix://{variables.own_socket(RUN_FOLDER)}")
CELERY_BROKER_URL = variables.broker(REDIS_URL)
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 300,
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 1,
    "socket_connect_timeout": 1,
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0.1,
    "interval_max": 0.1,
}
CELERY_TASK_PUBLISH_RETRY_POLICY = {
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0.1,
    "interval_max": 0.1,
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 240
CELERY_TASK_SOFT_TIME_LIMIT = 220
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = False
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(RUN_FOLDER / "beat")

# --- Letters ----------------------------------------------------------------------------------
# Off unless the company switches them on; without a mail server they are written to the console.

LETTERS = variables.switch("LETTERS")
_mail_url = variables.text("MAIL_URL")
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if _mail_url else 'console'}.EmailBackend"
if _mail_url:
    _mail = variables.mail_server(_mail_url)
    EMAIL_HOST, EMAIL_PORT = _mail["host"], _mail["port"]
    EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail["user"], _mail["password"]
    EMAIL_USE_SSL, EMAIL_USE_TLS = _mail["ssl"], _mail["tls"]
DEFAULT_FROM_EMAIL = variables.text("MAIL_FROM", "Landscape Care <care@localhost>")
EMAIL_TIMEOUT = 20

# --- Roads ------------------------------------------------------------------------------------
# Without an engine, drives are estimated from coordinates and nothing leaves the house.

ROAD_ENGINE = variables.road_engine("ROAD_ENGINE", variables.words("ROAD_ENGINE_HOSTS"))

# --- Logs -------------------------------------------------------------------------------------

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "discreet": {
            "()": "landscape_care.config.discretion.DiscreetFormatter",
            "format": "{asctime} {levelname} {name} {message}",
            "style": "{",
        },
    },
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "discreet"},
    },
    "root": {"handlers": ["console"], "level": variables.text("LOG_LEVEL", "INFO").upper()},
    "loggers": {
        "django.server": {"handlers": ["console"], "level": "INFO", "propagate": False},
        "django": {"handlers": [], "level": "INFO", "propagate": True},
    },
}
