"""Pages of outages: the list, one outage with what it cuts off, and the forms of stewards."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clubops.members.permissions import Reader
from nets import outage_impact
from nets.web.access import reader_who
from nets.web.outage_forms import OutageForm
from relays import outages
from relays.models import Outage, Relay
from relays.outages import OutageRefused

PAST = 20
stewards_only = reader_who(lambda reader: reader.tends_relays)


def _found(pk: int) -> Outage:
    return get_object_or_404(Outage.objects.select_related("relay__site"), pk=pk)


@require_safe
def outage_list(request: HttpRequest) -> HttpResponse:
    """Outages that run, that come, and the last ones that are over or were called off."""
    now = timezone.now()
    running, coming = outages.running(now=now), outages.coming(now=now)
    known = {each.pk for each in (*running, *coming)}
    past = Outage.objects.exclude(pk__in=known).select_related("relay").order_by("-starts_at")[:PAST]
    groups = (
        ("running", "Now", running),
        ("coming", "Coming", coming),
        ("past", "Past and called off", past),
    )
    context = {"groups": groups, "is_empty": not any(rows for _key, _title, rows in groups)}
    return render(request, "nets/outages.html", context | {"zone": settings.CLUB_ZONE})


@require_safe
@never_cache
def outage_page(request: HttpRequest, pk: int) -> HttpResponse:
    """When and why, for everybody; what it cuts off, for those who can do something about it."""
    outage, now, reader = _found(pk), timezone.now(), Reader(request.user)
    is_over = outage.ends_at is not None and outage.ends_at <= now
    looks_after = reader.tends_relays or reader.manages_nets
    open_still = not is_over and not outage.is_called_off
    context = {
        "outage": outage,
        "is_over": is_over,
        "is_running": open_still and outage.starts_at <= now,
        "may_change": reader.tends_relays and open_still,
        "may_call_off": outage.starts_at > now,
        "impact": outage_impact.of(outage, now=now) if looks_after and open_still else None,
        "effect": outage.effect,
        "zone": settings.CLUB_ZONE,
    }
    return render(request, "nets/outage.html", context)


@stewards_only
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def new_outage(request: HttpRequest) -> HttpResponse:
    """Plan an outage or report one: look at what it cuts off, then save."""
    initial = {"relay": Relay.objects.filter(slug=request.GET.get("relay", "")).first()}
    return _form(request, OutageForm(request.POST or None, initial=initial), None)


@stewards_only
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def edit_outage(request: HttpRequest, pk: int) -> HttpResponse:
    """Change when or why, in the same two steps."""
    outage = _found(pk)
    return _form(request, OutageForm(request.POST or None, outage=outage), outage)


def _form(request: HttpRequest, form: OutageForm, outage: Outage | None) -> HttpResponse:
    now, impact, stamp = timezone.now(), None, ""
    if form.is_bound and form.is_valid():
        relay = outage.relay if outage else form.cleaned_data["relay"]
        try:
            if "save" in request.POST and form.cleaned_data["seen"] == form.stamp:
                return _save(request, form, relay, outage)
            outages.require_possible(relay, form.terms, beside=outage, now=now)
            impact, stamp = outage_impact.would_be(relay, form.terms, now=now), form.stamp
        except OutageRefused as refusal:
            form.refuse(refusal)
    context = {
        "form": form,
        "outage": outage,
        "impact": impact,
        "stamp": stamp,
        "kept": [(name, form.data.get(name, "")) for name in form.fields if name != "seen"],
        "effect": form.terms.effect if impact else "",
        "notes": form.notes,
        "zone": settings.CLUB_ZONE,
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "nets/outage_form.html", context, status=status)


def _save(request: HttpRequest, form: OutageForm, relay: Relay, outage: Outage | None) -> HttpResponse:
    now = timezone.now()
    if outage is None:
        outage = outages.enter(relay, form.terms, by=Reader(request.user).member, now=now)
    else:
        outages.change(outage, form.terms, now=now)
    messages.success(request, "Saved. Calendars follow, and whoever it concerns is told.")
    return redirect("nets:outage", outage.pk)


@require_POST
@stewards_only
def end_outage(request: HttpRequest, pk: int) -> HttpResponse:
    """The relay is back on the air now."""
    outage, now = _found(pk), timezone.now()
    try:
        done = outages.end(outage, at=now, now=now)
    except OutageRefused as refusal:
        messages.error(request, refusal.sentence)
    else:
        said = f"{outage.relay.name} is back. Whoever was told of the outage is told of this."
        messages.success(request, said if done else "It had ended already.")
    return redirect("nets:outage", pk)


@require_POST
@stewards_only
def call_off_outage(request: HttpRequest, pk: int) -> HttpResponse:
    """It does not take place."""
    outage = _found(pk)
    try:
        outages.call_off(outage, now=timezone.now())
    except OutageRefused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Called off. Calendars follow, and whoever was told of it is told of this.")
    return redirect("nets:outage", pk)
