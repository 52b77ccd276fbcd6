"""A member's own stations: add, change, remove."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from clubops.members.models import Member, Station
from clubops.members.permissions import Reader
from relays import terminals
from relays.forms import RADIO_CHOICES
from relays.propagation.presets import PRESETS
from relays.web.forms import StationForm

PRESET_FREQUENCY_MHZ = 146.0


def _own(request: HttpRequest) -> Member:
    member = Reader(request.user).member
    if member is None:
        raise PermissionDenied("This login has no entry on the roster yet; ask an officer to link it.")
    return member


@login_required
@never_cache
def new_station(request: HttpRequest) -> HttpResponse:
    """Choose a radio first (?radio=), then correct its figures."""
    member = _own(request)
    radio = request.GET.get("radio", "")
    if radio not in PRESETS:
        return render(request, "relays/choose_radio.html", {"radios": RADIO_CHOICES})
    usual = terminals.fields_from_preset(radio, PRESET_FREQUENCY_MHZ)
    blank = Station(member=member, preset=radio, is_main=not member.stations.exists(), **usual)
    return _edit(request, blank, "Add a station", PRESETS[radio].label)


@login_required
@never_cache
def station(request: HttpRequest, pk: int) -> HttpResponse:
    """One of my stations."""
    own = get_object_or_404(Station, pk=pk, member=_own(request))
    return _edit(request, own, own.name, "")


def _edit(request: HttpRequest, row: Station, title: str, radio: str) -> HttpResponse:
    form = StationForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            if row.is_main:
                # The row of the member is the lock: there is one main station at any time.
                Member.objects.select_for_update().get(pk=row.member_id)
                Station.objects.filter(member=row.member, is_main=True).exclude(pk=row.pk).update(
                    is_main=False
                )
            form.save()
        messages.success(request, f"Saved. The paths of {row.name} are being worked out.")
        return redirect("members:me")
    context = {"form": form, "station": row, "title": title, "radio": radio}
    return render(request, "relays/station.html", context, status=422 if form.is_bound else 200)


@login_required
@require_POST
def remove_station(request: HttpRequest, pk: int) -> HttpResponse:
    """Forget a station of mine, with everything computed from it."""
    own = get_object_or_404(Station, pk=pk, member=_own(request))
    own.delete()
    messages.success(request, f"{own.name} is removed.")
    return redirect("members:me")
