"""Pages about notices: stop them by a link, choose them, see whether the sending goes on."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from clubops.members.permissions import Reader
from clubops.notices import choices, policy
from clubops.notices import health as sending
from clubops.notices.forms import ChoiceForm

RECENT = 20


# The signed link is the authority, and mail programs post to it without a cookie (RFC 8058 section 3.2).
@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """A GET shows a button and changes nothing, as mail scanners follow links; a POST stops reminders."""
    member = choices.member_of_link(token)
    if member is None:
        raise Http404("This link was not made here.")
    if request.method == "POST":
        choices.set_reminders(member, wanted=request.POST.get("again") == "yes")
    response = render(request, "notices/unsubscribe.html", {"wants_reminders": member.wants_reminders})
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    return response


@login_required
@never_cache
def mine(request: HttpRequest) -> HttpResponse:
    """What I will get and when, what I got, and what I choose."""
    member = Reader(request.user).member
    if member is None:
        raise PermissionDenied("This login has no entry on the roster yet; ask an officer to link it.")
    form = ChoiceForm(request.POST or None, instance=choices.of(member))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("notices:mine")
    context = {
        "member": member,
        "coming": choices.coming_for(member, now=timezone.now(), policy=policy.current()),
        "sent": member.notices.filter(sent_at__isnull=False).order_by("-sent_at")[:RECENT],
        "form": form,
    }
    return render(request, "notices/mine.html", context, status=422 if form.is_bound else 200)


@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Numbers and no names, for people and monitors: 503 when something is wrong, JSON when asked for."""
    found = sending.look(now=timezone.now())
    status = 200 if found.is_well else 503
    if request.GET.get("format") == "json" or request.accepts("text/html") is False:
        return JsonResponse(sending.as_json(found), status=status)
    return render(request, "notices/health.html", {"health": found}, status=status)
