"""The web server's way in: `uvicorn config.asgi:application`."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_asgi_application()

from config import celery  # noqa: E402, F401 - so that hints go to our broker and not to Celery's default one
