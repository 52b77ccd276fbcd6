"""Papers that run out, and who has which key: for stewards and officers."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from clubops.wake import wake
from relays import tasks
from relays.models import KeyHolder
from relays.upkeep import due, keys
from relays.upkeep import renewals as papers
from relays.web.upkeep import stewards_only
from relays.web.upkeep_forms import KeyForm, RenewForm

RETURNED = 30


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def renewals(request: HttpRequest) -> HttpResponse:
    """Every paper with its last day; a POST gives one its new last day."""
    stewards_only(request)
    today = due.club_day(timezone.now())
    found = papers.papers()
    form = RenewForm(request.POST or None, papers=found, today=today)
    if form.is_valid() and (paper := form.renew()):
        wake(tasks.plan_upkeep)
        messages.success(request, f"{paper.words}, {paper.about}: the new last day is noted.")
        return redirect("relays:upkeep_renewals")
    rows = [(paper, paper.state(today), paper.days_left(today)) for paper in found]
    context = {"rows": rows, "form": form}
    return render(request, "relays/upkeep/renewals.html", context, status=422 if form.is_bound else 200)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def key_list(request: HttpRequest) -> HttpResponse:
    """Which keys are out and with whom; a POST notes that one was given."""
    stewards_only(request)
    form = KeyForm(request.POST or None, today=due.club_day(timezone.now()))
    if form.is_valid() and form.hand_out():
        messages.success(request, "Noted.")
        return redirect("relays:upkeep_keys")
    returned = KeyHolder.objects.filter(returned_on__isnull=False).select_related("site", "member")
    context = {
        "at_hand": keys.at_hand(),
        "returned": returned.order_by("-returned_on")[:RETURNED],
        "form": form,
    }
    return render(request, "relays/upkeep/keys.html", context, status=422 if form.is_bound else 200)


@login_required
@require_POST
def key_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Note that a key came back today."""
    stewards_only(request)
    row = get_object_or_404(KeyHolder.objects.select_related("site"), pk=pk)
    if keys.take_back(row, on=due.club_day(timezone.now())):
        messages.success(request, f"{row.key}, {row.site.name}: it is back.")
    else:
        messages.info(request, f"{row.key}, {row.site.name}: it was back already.")
    return redirect("relays:upkeep_keys")
