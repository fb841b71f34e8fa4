"""The door for a web server: `gunicorn spanwell.wsgi`, and `manage.py serve`, which calls the same application."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "spanwell.settings")

application = get_wsgi_application()
