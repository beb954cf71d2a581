"""What ties the apps together: settings, addresses, web server, worker. Imports the apps; no app imports
it."""

# Whatever process runs Django, a task sent from it goes to our broker.
from config.celery import app as celery_app

__all__ = ["celery_app"]
