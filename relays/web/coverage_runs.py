"""The stewards' view of coverage: what is worked out, how far, and a hand on it."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from clubops.members.permissions import Reader
from clubops.wake import wake
from relays import tasks
from relays.coverage import runs
from relays.models import CoverageRun
from relays.web.forms import relay_choices


def _steward_only(request: HttpRequest) -> None:
    if not Reader(request.user).tends_relays:
        raise PermissionDenied("Stewards and officers look after the coverage maps.")


@login_required
@require_safe
@never_cache
def run_list(request: HttpRequest) -> HttpResponse:
    """Today's run of every relay, and the earlier ones that are still kept."""
    _steward_only(request)
    rows = [(relay, runs.today(relay)) for relay in relay_choices()]
    current = [run.pk for _, run in rows if run]
    earlier = CoverageRun.objects.exclude(pk__in=current).select_related("relay")[:50]
    is_busy = any(run.state in {"waiting", "running"} for _, run in rows if run)
    return render(request, "relays/map/runs.html", {"rows": rows, "earlier": earlier, "is_busy": is_busy})


@login_required
@require_POST
def ask(request: HttpRequest) -> HttpResponse:
    """Have whatever is missing or stale worked out now."""
    _steward_only(request)
    runs.ask_all(now=timezone.now())
    wake(tasks.refresh_coverage)
    messages.success(request, "A worker has been told; what is missing appears below.")
    return redirect("relays:coverage")


@login_required
@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Stop one run."""
    _steward_only(request)
    run = get_object_or_404(CoverageRun.objects.select_related("relay"), pk=pk)
    if runs.cancel(run, now=timezone.now()):
        messages.success(request, f"The coverage of {run.relay.name} is being stopped.")
    else:
        messages.info(request, f"The coverage of {run.relay.name} is over already.")
    return redirect("relays:coverage")


@login_required
@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin one run that is over once more."""
    _steward_only(request)
    run = get_object_or_404(CoverageRun.objects.select_related("relay"), pk=pk)
    if runs.again(run, now=timezone.now()):
        wake(tasks.compute_coverage, run.pk)
        messages.success(request, f"The coverage of {run.relay.name} is worked out again.")
    else:
        messages.info(
            request,
            f"The coverage of {run.relay.name} is there, or on its way; there is nothing to begin again.",
        )
    return redirect("relays:coverage")
