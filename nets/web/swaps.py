"""Turns on offer, and stand-ins for a turn."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from clubops.members.models import Member, Station
from clubops.members.permissions import Reader
from nets import agenda, swaps
from nets.models import Duty, SwapOffer
from nets.web.access import members_only, net_managers_only, roster_only
from nets.web.rota_forms import OfferForm

RELATED = ("session__net__relay__site", "session__relay__site", "session__earlier_rule", "member", "station")


def me(request: HttpRequest) -> Member:
    """The member whose page this is; `roster_only` lets nobody else in."""
    member = Reader(request.user).member
    assert member is not None
    return member


@roster_only
def swap_list(request: HttpRequest) -> HttpResponse:
    """What others offer me, what I offer, and my turns that I could offer."""
    member, now = me(request), timezone.now()
    mine = swaps.open_offers(now=now).filter(offered_by=member)
    offered = {(each.session_id, each.role) for each in mine}
    duties = agenda.coming_duties(member, now=now).filter(session__starts_at__gt=now)
    context = {
        "stations": member.stations.order_by("-is_main", "name"),
        "for_me": swaps.offers_for(member, now=now),
        "mine": mine,
        "duties": [duty for duty in duties if (duty.session_id, duty.role) not in offered],
    }
    return render(request, "nets/swaps.html", context)


@roster_only
def offer(request: HttpRequest, pk: int) -> HttpResponse:
    """Offer a turn of one's own."""
    duty = get_object_or_404(Duty.objects.select_related(*RELATED), pk=pk, member=me(request))
    named = request.GET.get("to", "")
    form = OfferForm(
        request.POST or None,
        duty=duty,
        now=timezone.now(),
        initial={"to": int(named) if named.isdecimal() else None},
    )
    if request.method == "POST" and form.is_valid():
        messages.success(request, "On offer. The turn stays yours until somebody has taken it.")
        return redirect("nets:swaps")
    context = {"form": form, "duty": duty}
    return render(request, "nets/swap_offer.html", context, status=422 if form.is_bound else 200)


@roster_only
@require_POST
def settle(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an offer, decline it, or withdraw one's own."""
    row = get_object_or_404(SwapOffer, pk=pk)
    member, now = me(request), timezone.now()
    answer = request.POST.get("answer", "")
    try:
        if answer == "accept":
            swaps.accept(row, by=member, now=now, station=_station(member, request.POST.get("station", "")))
            messages.success(request, "The turn is yours, and confirmed. Thank you.")
        elif answer == "decline":
            swaps.decline(row, by=member, now=now)
            messages.success(request, f"Declined. {row.offered_by.call_sign} keeps the turn for now.")
        elif answer == "withdraw":
            swaps.withdraw(row, by=member, now=now)
            messages.success(request, "Withdrawn. The turn stays yours.")
        else:
            return HttpResponseBadRequest("Say accept, decline or withdraw.")
    except swaps.SwapRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("nets:swaps")


def _station(member: Member, chosen: str) -> Station | None:
    """The station of theirs that was named; None for their main one."""
    return get_object_or_404(member.stations, pk=int(chosen)) if chosen.isdecimal() else None


@members_only
def substitutes(request: HttpRequest, pk: int) -> HttpResponse:
    """Who could stand in for a turn: for its holder and for net managers."""
    reader, now = Reader(request.user), timezone.now()
    duty = get_object_or_404(Duty.objects.select_related(*RELATED), pk=pk)
    is_mine = reader.member is not None and reader.member.pk == duty.member_id
    if not (is_mine or reader.manages_nets):
        raise PermissionDenied
    found = swaps.substitutes(duty, now=now)
    context = {
        "duty": duty,
        "is_mine": is_mine,
        "is_over": duty.session.starts_at <= now,
        "able": [each for each in found if each.is_able],
        "others": [each for each in found if not each.is_able],
    }
    return render(request, "nets/swap_substitutes.html", context)


@net_managers_only
@require_POST
def hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Give somebody else's turn to a stand-in."""
    duty = get_object_or_404(Duty.objects.select_related(*RELATED), pk=pk)
    chosen = request.POST.get("member", "")
    member = get_object_or_404(Member, pk=int(chosen) if chosen.isdecimal() else 0)
    session = duty.session
    try:
        swaps.hand_over(duty, member, now=timezone.now())
    except swaps.SwapRefused as refusal:
        messages.error(request, str(refusal))
        return redirect("nets:swap_substitutes", pk)
    messages.success(request, f"{member.call_sign} is {duty.get_role_display()} now.")
    return redirect("nets:session", session.net.slug, session.occurrence_date.isoformat())
