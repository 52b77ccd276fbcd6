"""Calendar addresses: what is stored goes out as it is, with its entity tag.

Nothing is built here. A calendar that is not on the shelf yet is answered with 503 and Retry-After, and a worker is
called once; a member's is built when its address is made, so that it never meets this.

The plain and the compressed bytes are two representations, each with a strong entity tag of its own (RFC 9110
sections 8.8.1 and 8.8.3.3), chosen by Accept-Encoding; preconditions are evaluated against the chosen one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseNotModified
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import http_date
from django.views.decorators.http import require_safe

from nets import changes, feeds
from nets.feeds import lookup
from nets.feeds.catalogue import Subject
from nets.models import FeedKey, Net, StoredCalendar
from nets.web import negotiation
from relays.models import Relay

RETRY_AFTER_S = 30
CONTENT_TYPE = "text/calendar; charset=utf-8"
VARY = "Accept-Encoding"


@dataclass(frozen=True, slots=True)
class Version:
    """One representation of a calendar as it is now: its tag, and when it changed (seconds since 1970)."""

    etag: str
    modified_s: int
    is_gzip: bool

    @classmethod
    def of(cls, row: StoredCalendar, *, gzip: bool) -> Version:
        assert row.modified_at is not None
        tag = f'{row.etag[:-1]}.gz"' if gzip else row.etag
        return cls(tag, int(row.modified_at.timestamp()), gzip)


@dataclass(frozen=True, slots=True)
class Audience:
    """How a calendar may travel: headers of every answer about it, and the name a browser saves it by."""

    headers: dict[str, str]
    filename: str


EVERYBODY = Audience({"Cache-Control": "public, max-age=900"}, "")
# The address is a key. It must not be indexed, nor told to another site, nor become the name of a file.
HOLDER = Audience(
    {
        "Cache-Control": "private, no-cache",
        "X-Robots-Tag": "noindex, nofollow, noarchive",
        "Referrer-Policy": "no-referrer",
    },
    "my-duties.ics",
)


def club(request: HttpRequest, *, alarms: bool = False) -> HttpResponse:
    """Every net of the club."""
    subject = Subject(has_alarms=alarms)
    return _answer(request, EVERYBODY, lookup.of_club(alarms=alarms), lambda: subject)


def net(request: HttpRequest, slug: str, *, alarms: bool = False) -> HttpResponse:
    """One net."""

    def subject() -> Subject | None:
        pk = Net.objects.filter(slug=slug).values_list("pk", flat=True).first()
        return Subject(net_id=pk, has_alarms=alarms) if pk else None

    return _answer(request, EVERYBODY, lookup.of_net(slug, alarms=alarms), subject)


def relay(request: HttpRequest, slug: str, *, alarms: bool = False) -> HttpResponse:
    """The nets on one relay."""

    def subject() -> Subject | None:
        pk = Relay.objects.filter(slug=slug).values_list("pk", flat=True).first()
        return Subject(relay_id=pk, has_alarms=alarms) if pk else None

    return _answer(request, EVERYBODY, lookup.of_relay(slug, alarms=alarms), subject)


def member(request: HttpRequest, token: str) -> HttpResponse:
    """One member's duties, for whoever knows the address; a revoked one is as unknown as one never given."""

    def subject() -> Subject | None:
        live = FeedKey.objects.filter(token=token, revoked_at=None, member__is_active=True)
        pk = live.values_list("member_id", flat=True).first()
        return Subject(member_id=pk) if pk else None

    return _answer(request, HOLDER, lookup.of_holder(token), subject)


def _answer(
    request: HttpRequest,
    audience: Audience,
    place: lookup.Place,
    subject: Callable[[], Subject | None],
) -> HttpResponse:
    """What is stored at `place`; else what there is to say about `subject()`."""
    response: HttpResponse
    if request.method in {"GET", "HEAD"}:
        response = _stored(request, place) or _not_stored(subject())
    else:
        response = HttpResponseNotAllowed(["GET", "HEAD"])
    if request.method == "HEAD":
        response.content = b""
    for name, value in audience.headers.items():
        response.headers.setdefault(name, value)
    if audience.filename and response.status_code == 200:
        response.headers["Content-Disposition"] = f'inline; filename="{audience.filename}"'
    return response


def _stored(request: HttpRequest, place: lookup.Place) -> HttpResponse | None:
    """The answer from the shelf; None when there are no bytes on it.

    The bytes are not fetched for a reader that has them, so that a long calendar costs such a reader no more than
    a short one.
    """
    gzip = negotiation.wants_gzip(request.META.get("HTTP_ACCEPT_ENCODING", ""))
    if negotiation.is_conditional(request.META) and (row := lookup.fetch(place)):
        version = Version.of(row, gzip=gzip)
        status = negotiation.outcome(request.META, version.etag, version.modified_s)
        if status != negotiation.OK:
            return _without_body(status, version)
    if row := lookup.fetch(place, "body_gzip" if gzip else "body"):
        return _with_body(bytes(row.body_gzip if gzip else row.body), Version.of(row, gzip=gzip))
    return None


def _without_body(status: int, version: Version) -> HttpResponse:
    response = HttpResponse(status=status, content_type="text/plain; charset=utf-8")
    if status == negotiation.NOT_MODIFIED:
        response = HttpResponseNotModified()
    response.headers["ETag"] = version.etag
    response.headers["Vary"] = VARY
    return response


def _with_body(body: bytes, version: Version) -> HttpResponse:
    response = HttpResponse(body, content_type=CONTENT_TYPE)
    response.headers["Content-Length"] = str(len(body))
    response.headers["ETag"] = version.etag
    response.headers["Vary"] = VARY
    if version.is_gzip:
        response.headers["Content-Encoding"] = "gzip"
    # RFC 9110 section 8.8.2.1: never later than Date. It may be for a second, see feeds.stored.
    if version.modified_s <= timezone.now().timestamp():
        response.headers["Last-Modified"] = http_date(version.modified_s)
    return response


def _not_stored(subject: Subject | None) -> HttpResponse:
    """503 for what is there and not built yet, 404 for what is not there."""
    if subject is None:
        words, status = "There is no such calendar.\n", 404
    else:
        changes.call_builder([subject])
        words, status = "This calendar is being made. Please ask again in half a minute.\n", 503
    response = HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")
    response.headers["Cache-Control"] = "no-store"
    if status == 503:
        response.headers["Retry-After"] = str(RETRY_AFTER_S)
    return response


@require_safe
def robots(request: HttpRequest) -> HttpResponse:
    """What crawlers are asked to leave alone.

    Calendars are not among it: some calendar programs ask here before they subscribe, and a crawler that may not
    look never sees the `noindex` of a private one.
    """
    lines = ["User-agent: *", "Disallow: /office/", "Disallow: /login/", "Allow: /calendars/"]
    return HttpResponse("\n".join([*lines, ""]), content_type="text/plain; charset=utf-8")


@require_safe
def index(request: HttpRequest) -> HttpResponse:
    """Which calendars there are, and how to subscribe."""
    return render(request, "nets/calendars.html", {"offers": feeds.public_offers()})
