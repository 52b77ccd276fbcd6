"""What the log page's script asks and sends: entries, names to complete, and the worker that keeps the page."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import parse_etags
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from clubops.members.permissions import Reader
from nets.checkins import names, sync
from nets.checkins.keeping import LogRefused
from nets.models import Session
from nets.web.log_access import keeper_name, keepers_only


@never_cache
@keepers_only
@require_http_methods(["GET", "POST"])
def log_entries(request: HttpRequest, session: Session) -> HttpResponse:
    """GET: what changed since a version, or 304. POST: operations, answered with what became of each, and the same."""
    if request.method == "GET":
        return _changes(request, session)
    try:
        given = json.loads(request.body)
        operations, seen = given["operations"], int(given.get("since", 0))
        if not isinstance(operations, list):
            raise TypeError
    except (ValueError, TypeError, KeyError, AttributeError):
        return _sentence("This is not a batch of entries; it needs “operations”, a list, and “since”.", 400)
    if given.get("from") not in (None, request.user.pk):
        # Typed under one login, sent under another: the history would name the wrong person.
        return _sentence("Somebody else has logged in in this browser since this was typed.", 409)
    by, now = keeper_name(Reader(request.user)), timezone.now()
    try:
        results = sync.apply(session, operations, by=by, now=now)
    except LogRefused as refusal:
        return _sentence(refusal.sentence, 422)
    return _answer({"results": results, **sync.changes_since(session, seen)})


def _changes(request: HttpRequest, session: Session) -> HttpResponse:
    try:
        seen = int(request.GET.get("since", 0))
    except ValueError:
        return _sentence("“since” is the number of the last version seen.", 400)
    if f'"{sync.version(session)}"' in parse_etags(request.headers.get("If-None-Match", "")):
        return HttpResponseNotModified()
    return _answer(sync.changes_since(session, seen))


def _answer(content: dict[str, Any]) -> JsonResponse:
    response = JsonResponse({**content, "now": timezone.now().isoformat()})
    response["ETag"] = f'"{content["version"]}"'
    return response


def _sentence(sentence: str, status: int) -> JsonResponse:
    return JsonResponse({"sentence": sentence}, status=status)


@keepers_only
@require_GET
def log_names(request: HttpRequest, session: Session) -> HttpResponse:
    """Whom the call sign field can complete: [call sign, name, place, on the roster]."""
    content = json.dumps(
        [[each.call_sign, each.name, each.place, each.is_member] for each in names.known()],
        ensure_ascii=False,
        separators=(",", ":"),
    ).encode()
    etag = f'"{hashlib.sha256(content).hexdigest()[:20]}"'
    if etag in parse_etags(request.headers.get("If-None-Match", "")):
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = HttpResponse(content, content_type="application/json")
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"
    return response


@never_cache
@keepers_only
@require_GET
def log_worker(request: HttpRequest, session: Session) -> HttpResponse:
    """The worker that opens this page without a connection. It stands under the page's own address, which it keeps."""
    return render(request, "nets/log_worker.js", {}, content_type="text/javascript")
