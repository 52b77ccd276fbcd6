"""Calendar requests, answered before sessions, logins and page policies, none of which they need.

Calendar programs ask every few minutes, for ever, and mostly to hear that nothing has changed. What a page needs
costs more than this answer does.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase
from django.urls import Resolver404, resolve

PREFIX = "/calendars"
ADDRESSES = "nets.web.calendar_urls"


class CalendarsFirst:
    """Middleware: calls the view of a calendar address directly. It belongs right below SecurityMiddleware.

    The same views hang in the site's own address book, so that nothing but speed depends on this.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        path = request.path_info
        if path.startswith(f"{PREFIX}/") and path.endswith(".ics"):
            try:
                match = resolve(path.removeprefix(PREFIX), ADDRESSES)
            except Resolver404:
                return self.get_response(request)
            response: HttpResponseBase = match.func(request, *match.args, **match.kwargs)
            return response
        return self.get_response(request)
