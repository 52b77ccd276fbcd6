"""Pages on which net managers plan: a net and its rule, one session by hand, conflicts."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from clubops import clock
from nets import conflicts, preview, recurrence, rule_changes, schedule
from nets.forms import NetForm
from nets.models import Net, Session
from nets.preview import Preview
from nets.web import plan_forms
from nets.web.access import net_managers_only
from nets.web.schedule import find_session

WHEN = ("rule", "first_date", "start_time", "zone")


@net_managers_only
def new_net(request: HttpRequest) -> HttpResponse:
    """Add a net."""
    return _net(request, None)


@net_managers_only
def edit_net(request: HttpRequest, slug: str) -> HttpResponse:
    """Change a net: what was held stays, and what saving would do is said first."""
    return _net(request, get_object_or_404(Net.objects.select_related("relay"), slug=slug))


def _net(request: HttpRequest, net: Net | None) -> HttpResponse:
    """Look first, or save. Checking and saving are one transaction, in which nobody else plans."""
    now = timezone.now()
    name = net.name if net else ""
    if request.method != "POST":
        form = NetForm(instance=net, now=now)
        shown = preview.preview(net, now=now) if net else None
        return _page(request, net, form, shown, name, now=now)
    looking = "save" not in request.POST
    with transaction.atomic():
        form = NetForm(request.POST, instance=net, now=now, looking=looking, shows_outcome=True)
        if form.is_valid() and not looking:
            saved = form.save(commit=False)
            rule_changes.adopt(saved, now=now, found=form.succession)
            messages.success(request, f"{saved.name} is saved: {saved.in_words}.")
            return redirect("nets:page", saved.slug)
        shown = _preview(form, now)
    return _page(request, net, form, shown, name, now=now)


def _page(
    request: HttpRequest,
    net: Net | None,
    form: NetForm,
    shown: Preview | None,
    name: str,
    *,
    now: dt.datetime,
) -> HttpResponse:
    htmx = getattr(request, "htmx", False)
    context = {
        "net": net,
        "name": name,
        "meets": schedule.in_words(Net.objects.get(pk=net.pk), now=now) if net and not htmx else "",
        "form": form,
        "preview": shown,
        "found": conflicts.coming(now=now, net=net) if net and not htmx else [],
    }
    template = "nets/plan_preview.html" if htmx else "nets/plan_net.html"
    wrong = form.is_bound and not form.is_valid() and not htmx
    return render(request, template, context, status=422 if wrong else 200)


def _preview(form: NetForm, now: dt.datetime) -> Preview | None:
    """The rule as typed, as soon as what it needs is there, whatever else is still wrong."""
    cleaned = form.cleaned_data
    if any(form.has_error(name) or not cleaned.get(name) for name in WHEN):
        return None
    typed = Net(**{name: cleaned[name] for name in WHEN}, ends_on=cleaned.get("ends_on"))
    try:
        return preview.preview(typed, now=now)
    except (recurrence.RuleError, clock.ClockError):
        return None


@net_managers_only
def conflicts_page(request: HttpRequest) -> HttpResponse:
    """Every conflict of the planned weeks, both sides named, with a way out."""
    found = conflicts.coming(now=timezone.now())
    return render(request, "nets/plan_conflicts.html", {"found": found})


@net_managers_only
@require_http_methods(["GET", "HEAD", "POST"])
def change_session(request: HttpRequest, slug: str, date: str) -> HttpResponse:
    """Move a session, call it off, put it back or use another relay, each by its own small form."""
    session = find_session(slug, date)
    now = timezone.now()
    bound = None
    if request.method == "POST":
        kind = plan_forms.FORMS.get(request.POST.get("what", ""))
        if kind is None:
            raise Http404("There is no such change.")
        bound = kind(request.POST, session=session, now=now)
        if bound.is_valid():
            messages.success(request, bound.done())
            for each in conflicts.of_session(bound.session, now=now):
                messages.warning(request, f"{each.sentence} {each.way_out}")
            return redirect("nets:session", slug, date)
        session.refresh_from_db()
    context = {
        "session": session,
        "net": session.net,
        "changes": plan_forms.offered(session, now=now, bound=bound),
        "refused": bound,
    }
    return render(request, "nets/plan_session.html", context, status=422 if bound else 200)


@net_managers_only
def extra_session(request: HttpRequest, slug: str) -> HttpResponse:
    """Add a session on a date on which the net does not meet by its rule."""
    net = get_object_or_404(Net.objects.select_related("relay"), slug=slug)
    now = timezone.now()
    form = plan_forms.ExtraForm(request.POST or None, net=net, now=now)
    if request.method == "POST" and form.is_valid():
        session = form.session
        assert isinstance(session, Session)
        messages.success(request, form.done())
        for each in conflicts.of_session(session, now=now):
            messages.warning(request, f"{each.sentence} {each.way_out}")
        return redirect("nets:session", slug, session.occurrence_date.isoformat())
    context = {"net": net, "form": form}
    return render(request, "nets/plan_extra.html", context, status=422 if form.is_bound else 200)
