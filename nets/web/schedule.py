"""Pages of nets and their sessions."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from clubops.members.permissions import Reader
from nets import agenda, conflicts, duties, feeds, schedule
from nets.models import Duty, Net, Session
from nets.reminders import progress
from nets.web import plan_forms
from nets.web.access import members_only, net_managers_only
from nets.web.forms import ChairForm


def net_list(request: HttpRequest) -> HttpResponse:
    """Every net that meets, in words."""
    now = timezone.now()
    nets = Net.objects.filter(is_active=True).select_related("relay__site", "manager")
    rows = [
        {"net": net, "meets": schedule.in_words(net, now=now)}
        for net in nets.prefetch_related("earlier_rules")
    ]
    resting = Net.objects.filter(is_active=False) if Reader(request.user).manages_nets else []
    context = {"rows": rows, "resting": resting, "club_feed": feeds.club_address()}
    return render(request, "nets/list.html", context)


def net_page(request: HttpRequest, slug: str) -> HttpResponse:
    """One net: when, where, the coming sessions with their people, the public calendar."""
    net = get_object_or_404(Net.objects.select_related("relay__site", "manager"), slug=slug)
    now = timezone.now()
    coming = agenda.between(now, now + dt.timedelta(weeks=schedule.PLANNED_WEEKS), net)
    context = {
        "net": net,
        "meets": schedule.in_words(net, now=now),
        "coming": coming,
        "feed_address": feeds.net_address(net),
    }
    return render(request, "nets/page.html", context)


def find_session(slug: str, date: str) -> Session:
    """The session of that net on that local date, or a 404."""
    try:
        on = dt.date.fromisoformat(date)
    except ValueError:
        raise Http404(f"{date!r} is not a date.") from None
    rows = Session.objects.select_related("net__relay__site", "relay__site")
    return get_object_or_404(rows, net__slug=slug, occurrence_date=on)


@members_only
def session_page(request: HttpRequest, slug: str, date: str) -> HttpResponse:
    """One session: who is in each chair and how well the relay hears them. For members."""
    session = find_session(slug, date)
    seats = agenda.chairs(Session.objects.filter(pk=session.pk))[0]
    now = timezone.now()
    reader = Reader(request.user)
    rows = [
        {
            "role": role,
            "words": words,
            "duty": duty,
            "standing": duties.standing_of(session, duty.station, now=now) if duty else None,
            "is_mine": bool(duty and reader.member and duty.member_id == reader.member.pk),
            "form_url": reverse("nets:chair", args=[slug, date, role]),
            "path_url": _path_url(reader, duty, session),
            "steps": progress.steps(session, role, now=now),
        }
        for role, words, duty in seats.duties
    ]
    context = {
        "session": session,
        "net": session.net,
        "chairs": rows,
        "is_over": session.ends_at <= now,
        "silent": seats.silent,
    }
    if reader.manages_nets:
        context |= {
            "changes": plan_forms.offered(session, now=now),
            "found": conflicts.of_session(session, now=now),
        }
    return render(request, "nets/session.html", context)


def _path_url(reader: Reader, duty: Duty | None, session: Session) -> str:
    """The page of the whole path, for those who may see where the station stands."""
    relay = session.relay_in_use
    if duty is None or duty.station is None or relay is None or not reader.may_see_station(duty.member_id):
        return ""
    return f"{reverse('relays:path')}?station={duty.station_id}&relay={relay.slug}"


@net_managers_only
def chair(request: HttpRequest, slug: str, date: str, role: str) -> HttpResponse:
    """Put somebody in a chair. The form refuses a path that is not usable, with the margin and the reason."""
    session = find_session(slug, date)
    if role not in Duty.Role.values:
        raise Http404("There is no such chair.")
    reader = Reader(request.user)
    form = ChairForm(
        request.POST or None,
        session=session,
        role=role,
        officer=reader.member if reader.is_officer else None,
        now=timezone.now(),
    )
    if request.method == "POST" and form.is_valid():
        duty = form.assign()
        messages.success(request, f"{duty.member.call_sign} is {duty.get_role_display()}.")
        return redirect("nets:session", slug, date)
    context = {"session": session, "net": session.net, "form": form, "role_words": Duty.Role(role).label}
    return render(request, "nets/chair.html", context, status=422 if form.is_bound else 200)
