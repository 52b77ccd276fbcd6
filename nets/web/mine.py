"""A member's own page: duties, days away, the private calendar."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from clubops.members.models import Member
from clubops.members.permissions import Reader
from nets import agenda, duties, feeds
from nets.models import Absence, Duty
from nets.web.access import roster_only
from nets.web.forms import AbsenceForm


def _self(request: HttpRequest) -> Member:
    """The reader's own roster entry; `roster_only` has seen to it that there is one."""
    member = Reader(request.user).member
    if member is None:
        raise PermissionDenied
    return member


@roster_only
def my_duties(request: HttpRequest) -> HttpResponse:
    """What I have promised, when I am away, and the address of my calendar. A POST adds an absence."""
    member = _self(request)
    now = timezone.now()
    form = AbsenceForm(request.POST or None, instance=Absence(member=member))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Noted: you will not be given a duty on those days.")
        return redirect("nets:my_duties")
    rows = [
        {"duty": duty, "standing": duties.standing_of(duty.session, duty.station, now=now)}
        for duty in agenda.coming_duties(member, now=now)
    ]
    context = {
        "rows": rows,
        "absences": member.absences.filter(last_date__gte=now.date()),
        "form": form,
        "calendar_address": feeds.member_address(member),
    }
    return render(request, "nets/my_duties.html", context, status=422 if form.is_bound else 200)


@roster_only
@require_POST
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Yes or no to a duty of one's own."""
    duty = get_object_or_404(Duty, pk=pk, member=_self(request))
    confirmed = request.POST.get("answer") == "yes"
    duties.answer(duty, confirmed=confirmed, now=timezone.now())
    messages.success(
        request,
        "Thank you. The chair is yours." if confirmed else "Noted. The net manager will find somebody else.",
    )
    return redirect("nets:my_duties")


@roster_only
@require_POST
def remove_absence(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget days away that one entered."""
    get_object_or_404(Absence, pk=pk, member=_self(request)).delete()
    messages.success(request, "Removed.")
    return redirect("nets:my_duties")


@roster_only
@require_POST
def new_calendar_address(request: HttpRequest) -> HttpResponse:
    """Revoke the old private address and give a new one, or only revoke it."""
    member = _self(request)
    if request.POST.get("revoke"):
        feeds.revoke(member, now=timezone.now())
        messages.success(request, "The address no longer answers.")
    else:
        feeds.renew(member, now=timezone.now())
        messages.success(request, "Here is your new address. The old one no longer answers.")
    return redirect("nets:my_duties")
