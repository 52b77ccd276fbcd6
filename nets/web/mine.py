"""A member's own page: duties, days away."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from clubops.templatetags.measures import whole_date
from nets import agenda, duties, silences, swaps
from nets.models import Absence, Duty
from nets.web import my_calendar
from nets.web.access import own_entry, roster_only
from nets.web.forms import AbsenceForm
from relays.upkeep import due

NAMED = 4
SAID = {
    "yes": "Thank you. The chair is yours.",
    "no": "Noted. The net manager will find somebody else.",
}


@roster_only
def my_duties(request: HttpRequest) -> HttpResponse:
    """What I have promised, when I am away, and the address of my calendar. A POST adds an absence."""
    member = own_entry(request)
    now = timezone.now()
    form = AbsenceForm(request.POST or None, instance=Absence(member=member))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Noted: you will not be given a duty on those days.")
        if in_the_way := [
            duty for duty in agenda.coming_duties(member, now=now) if duties.away(member, duty.session)
        ]:
            messages.warning(request, _still_yours(in_the_way))
        return redirect("nets:my_duties")
    coming = list(agenda.coming_duties(member, now=now))
    silent = silences.by_session(duty.session for duty in coming)
    rows = [
        {
            "duty": duty,
            "silent": silent.get(duty.session_id, ()),
            "standing": duties.standing_of(duty.session, duty.station, now=now),
            "away": duties.away(member, duty.session),
        }
        for duty in coming
    ]
    context = {
        "rows": rows,
        "declined": agenda.declined_duties(member, now=now),
        "on_offer": swaps.offers_for(member, now=now).count(),
        "stations": member.stations.order_by("-is_main", "name"),
        "absences": member.absences.filter(last_date__gte=now.date()),
        "upkeep": due.of_member(member, today=due.club_day(now)),
        "form": form,
        **my_calendar.context(member),
    }
    return render(request, "nets/my_duties.html", context, status=422 if form.is_bound else 200)


def _still_yours(held: list[Duty]) -> str:
    """Days away take nobody out of a chair: what somebody promised is theirs to pass on."""
    named = "; ".join(
        f"{duty.get_role_display()} of {duty.session.net.name}, {whole_date(duty.session.occurrence_date)}"
        for duty in held[:NAMED]
    )
    more = f"; and {len(held) - NAMED} more" if len(held) > NAMED else ""
    return f"On days away you still have: {named}{more}. Find a stand-in, or say that you cannot."


@roster_only
@require_POST
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Yes or no to a duty of one's own."""
    duty = get_object_or_404(Duty, pk=pk, member=own_entry(request))
    said = request.POST.get("answer", "")
    if said not in SAID:
        return HttpResponseBadRequest("Say yes or no.")
    try:
        duties.answer(duty, confirmed=said == "yes", now=timezone.now())
    except duties.DutyRefused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, SAID[said])
    return redirect("nets:my_duties")


@roster_only
@require_POST
def station(request: HttpRequest, pk: int) -> HttpResponse:
    """From which of one's own stations one will be on the air that evening."""
    member = own_entry(request)
    duty = get_object_or_404(Duty.objects.select_related("member"), pk=pk, member=member)
    chosen = request.POST.get("station", "")
    own = get_object_or_404(member.stations, pk=int(chosen) if chosen.isdecimal() else 0)
    try:
        duties.use_station(duty, own, now=timezone.now())
    except duties.DutyRefused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"Noted: from {own.name} that evening.")
    return redirect("nets:my_duties")


@roster_only
@require_POST
def remove_absence(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget days away that one entered."""
    get_object_or_404(Absence, pk=pk, member=own_entry(request)).delete()
    messages.success(request, "Removed.")
    return redirect("nets:my_duties")
