"""The addresses: each app brings its own."""

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.views.decorators.http import require_safe

from config import live, mail


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """GET /health: the web process runs and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("well\n", content_type="text/plain")


urlpatterns = [
    path("health", health),
    path("live/", live.stream, name="live"),
    path("mail/", mail.page, name="mail"),
    path("", include("circuits.urls")),
    path("", include("notifications.urls")),
    path("", include("clearances.urls")),
]
