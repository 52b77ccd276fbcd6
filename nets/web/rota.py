"""The rota: as it is published, and as a net manager makes it."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from clubops.clock import Span
from clubops.members.permissions import Reader
from clubops.wake import wake
from nets import agenda, tasks
from nets.models import Net, RotaDraft, TurnWish
from nets.rota import board as boards
from nets.rota import draft as making
from nets.rota import publishing, shares, words
from nets.rota.publishing import PublishRefused
from nets.web.access import members_only, net_managers_only, roster_only
from nets.web.rota_forms import DraftForm, WishForm

WEEKS = 12
LOOK_AGAIN_S = 3
DRAFTS_LISTED = 8


@members_only
def board(request: HttpRequest) -> HttpResponse:
    """The published rota of every net, and everybody's turns beside their fair share.

    Twelve weeks of it; `?show=all` goes on to the last session in which somebody has a chair.
    """
    now = timezone.now()
    span = boards.horizon(now, WEEKS)
    reach = Span(now, agenda.rota_until(now=now, least=dt.timedelta(weeks=WEEKS)))
    goes_on, shows_all = reach.end > span.end, request.GET.get("show") == "all"
    if shows_all:
        span = reach
    nets = Net.objects.filter(is_active=True).select_related("relay__site")
    context = {
        "rotas": [boards.board(net, span) for net in nets],
        "shares": shares.present(now=now, ahead=span.end - now),
        "goes_on": goes_on,
        "whole": goes_on and shows_all,
        "reach": reach.end.date(),
    }
    return render(request, "nets/rota.html", context)


@net_managers_only
@require_POST
def fill(request: HttpRequest) -> HttpResponse:
    """Fill the empty chairs of one net or of all; nobody who has a turn is moved."""
    slug = request.POST.get("net", "")
    net = get_object_or_404(Net, slug=slug) if slug else None
    try:
        done = publishing.fill(net, now=timezone.now(), by=Reader(request.user).member)
    except PublishRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("nets:rota")
    chairs = "1 chair" if done.filled == 1 else f"{done.filled} chairs"
    said = f"{chairs} filled." if done.filled else "There was nobody more to put in a chair."
    if done.empty:
        still = "1 stays empty" if len(done.empty) == 1 else f"{len(done.empty)} stay empty"
        said = f"{said} {still}; the rota says why."
    messages.success(request, said) if done.filled else messages.info(request, said)
    return redirect("nets:rota")


@net_managers_only
def drafts(request: HttpRequest) -> HttpResponse:
    """Ask for a draft; the last few there are."""
    now = timezone.now()
    form = DraftForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        draft = making.ask(form.save(commit=False), by=Reader(request.user).member, now=now)
        if making.is_long(draft):
            wake(tasks.tend_rota)
        else:
            making.work_out(draft, now=now)
        return redirect("nets:rota_draft", draft.pk)
    rows = RotaDraft.objects.select_related("net", "made_by", "settled_by")[:DRAFTS_LISTED]
    context = {"form": form, "drafts": rows}
    return render(request, "nets/rota_drafts.html", context, status=422 if form.is_bound else 200)


@net_managers_only
def draft(request: HttpRequest, pk: int) -> HttpResponse:
    """One draft beside the published rota. While it is worked out the page looks again by itself."""
    row = get_object_or_404(RotaDraft.objects.select_related("net", "made_by", "settled_by"), pk=pk)
    response = render(request, "nets/rota_draft.html", _shown(row))
    if row.is_at_work:
        response["Refresh"] = str(LOOK_AGAIN_S)
    return response


def _shown(row: RotaDraft) -> dict[str, object]:
    """A draft and everything its page says about it."""
    return {
        "draft": row,
        "compared": publishing.compare(row),
        "title": f"Draft: {row.net or 'every net'}",
        "purpose": words.asked(row),
        "at_work": words.at_work(row),
        "proof": words.proof(row),
        "settled": words.settled(row),
    }


@net_managers_only
@require_POST
def publish(request: HttpRequest, pk: int) -> HttpResponse:
    """Make the draft the rota; refused with what has changed since it was made."""
    row = get_object_or_404(RotaDraft, pk=pk)
    try:
        publishing.publish(row, by=Reader(request.user).member, now=timezone.now())
    except PublishRefused as refusal:
        return render(request, "nets/rota_draft.html", _shown(row) | {"refusal": refusal}, status=409)
    messages.success(request, "This is the rota now. Everybody whose turns changed is told.")
    return redirect("nets:rota")


@net_managers_only
@require_POST
def discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    row = get_object_or_404(RotaDraft, pk=pk)
    if making.discard(row, by=Reader(request.user).member, now=timezone.now()):
        messages.success(request, "Thrown away. The rota is as it was.")
    else:
        messages.info(request, f"This draft was {row.get_state_display()} already.")
    return redirect("nets:rota_drafts")


@roster_only
def wishes(request: HttpRequest) -> HttpResponse:
    """How often I want to be in a chair at most."""
    member = Reader(request.user).member
    wish = TurnWish.objects.filter(member=member).first() or TurnWish(member=member)
    form = WishForm(request.POST or None, instance=wish)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Noted. The next rota keeps to it; turns you have stay yours.")
        return redirect("nets:rota_wishes")
    context = {"form": form, "member": member}
    return render(request, "nets/rota_wishes.html", context, status=422 if form.is_bound else 200)
