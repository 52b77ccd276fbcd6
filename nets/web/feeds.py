"""Calendar addresses: what is stored goes out as it is, with its entity tag."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.views.decorators.http import require_safe

from nets import feeds
from nets.models import FeedKey, Net, StoredCalendar


def _answer(request: HttpRequest, key: str, *, private: bool) -> HttpResponseBase:
    """304 from the tag alone when the reader has these bytes; else the bytes. Nothing is built here."""
    tags = StoredCalendar.objects.filter(key=key).values_list("etag", "modified_at").first()
    if tags is None:
        raise Http404("This calendar has not been built yet; try again in a minute.")
    etag, modified_at = tags
    seconds = int(modified_at.timestamp())
    response = get_conditional_response(request, etag=etag, last_modified=seconds)
    if response is None:
        body = StoredCalendar.objects.values_list("body", flat=True).get(key=key)
        response = HttpResponse(bytes(body), content_type="text/calendar; charset=utf-8")
    response["ETag"] = etag
    response["Last-Modified"] = http_date(seconds)
    response["Cache-Control"] = "private, no-cache" if private else "public, max-age=900"
    if private:
        response["X-Robots-Tag"] = "noindex, nofollow"
        response["Referrer-Policy"] = "no-referrer"
    return response


@require_safe
def club(request: HttpRequest) -> HttpResponseBase:
    """Every net of the club."""
    return _answer(request, feeds.CLUB, private=False)


@require_safe
def net(request: HttpRequest, slug: str) -> HttpResponseBase:
    """One net."""
    return _answer(request, feeds.net_key(get_object_or_404(Net, slug=slug)), private=False)


@require_safe
def member(request: HttpRequest, token: str) -> HttpResponseBase:
    """One member's duties, for whoever knows the address; a revoked one is as unknown as one never given."""
    key = get_object_or_404(FeedKey.objects.select_related("member"), token=token, revoked_at=None)
    if not key.member.is_active:
        raise Http404
    return _answer(request, feeds.member_key(key.member), private=True)
