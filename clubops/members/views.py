"""A member's own page."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache

from clubops.members.forms import OwnDetailsForm
from clubops.members.permissions import Reader
from clubops.members.segments import in_words


@login_required
@never_cache
def me(request: HttpRequest) -> HttpResponse:
    """My entry on the roster, my stations, how the club reaches me."""
    member = Reader(request.user).member
    if member is None:
        raise PermissionDenied("This login has no entry on the roster yet; ask an officer to link it.")
    form = OwnDetailsForm(request.POST or None, instance=member)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Saved.")
        return redirect("members:me")
    allowed = member.licence_class.segments if member.licence_class else []
    context = {
        "member": member,
        "allowed": allowed,
        "allowed_words": in_words(allowed),
        "stations": member.stations.all(),
        "form": form,
    }
    return render(request, "members/me.html", context, status=422 if form.is_bound else 200)
