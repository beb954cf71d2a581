"""What every answer says to the browser, beyond Django's own security settings."""

from collections.abc import Awaitable, Callable
from typing import cast

from asgiref.sync import iscoroutinefunction
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.utils.decorators import sync_and_async_middleware

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'self'",
        "img-src 'self' data:",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "object-src 'none'",
    ]
)
# MapLibre's worker is a script that it makes itself, so the map's page, and no other, lets one be made.
_MAP = "map"
_WORKERS_OF_THE_MAP = "worker-src blob:"
PERMISSIONS_POLICY = ", ".join(
    f"{feature}=()" for feature in ["camera", "geolocation", "microphone", "payment", "usb"]
)

Sync = Callable[[HttpRequest], HttpResponseBase]
Async = Callable[[HttpRequest], Awaitable[HttpResponseBase]]


def _marked(request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    policy = CONTENT_SECURITY_POLICY
    if request.resolver_match and request.resolver_match.view_name == _MAP:
        policy = f"{policy}; {_WORKERS_OF_THE_MAP}"
    response["Content-Security-Policy"] = policy
    response["Permissions-Policy"] = PERMISSIONS_POLICY
    # Pages tell of people and addresses, and a page from a cache is an old board; static files set their own.
    response.setdefault("Cache-Control", "no-store")
    return response


def _illegible(request: HttpRequest) -> HttpResponseBase | None:
    """The answer to an address or a cookie with a NUL in it: no person typed that, and PostgreSQL takes none
    in a text."""
    if "%00" in request.META["QUERY_STRING"] or any(
        "\0" in said for said in (request.path, *request.COOKIES.values())
    ):
        sentence = "This address holds a character that can not be read (U+0000). Nothing was changed.\n"
        return HttpResponse(sentence, status=400, content_type="text/plain")
    return None


@sync_and_async_middleware
def headers(get_response: Sync | Async) -> Sync | Async:
    """Middleware: only our own files may run or be shown, in nobody's frame, no page is kept in a cache, and
    what nobody can have typed is answered here."""
    if iscoroutinefunction(get_response):
        later = cast(Async, get_response)

        async def marked_later(request: HttpRequest) -> HttpResponseBase:
            return _marked(request, _illegible(request) or await later(request))

        return marked_later
    now = cast(Sync, get_response)

    def marked(request: HttpRequest) -> HttpResponseBase:
        return _marked(request, _illegible(request) or now(request))

    return marked
