"""Check-ins from a table: shown first, saved only when confirmed."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from clubops.members.permissions import Reader
from nets.checkins import sheet
from nets.checkins.keeping import LogRefused
from nets.models import Session
from nets.web.log import address_of
from nets.web.log_access import keeper_name, keepers_only
from nets.web.log_forms import SheetForm


@never_cache
@keepers_only
def log_import(request: HttpRequest, session: Session) -> HttpResponse:
    """Read a table and show what it says; saving takes the good rows and leaves the bad ones to be mended."""
    is_posted = request.method == "POST"
    form = SheetForm(
        request.POST if is_posted else None,
        request.FILES if is_posted else None,
        initial={"key": uuid.uuid4()},
    )
    context: dict[str, Any] = {"session": session, "net": session.net, "form": form}
    if is_posted and form.is_valid():
        try:
            text = _text(form)
            key = form.cleaned_data["key"] or uuid.uuid4()
            read = sheet.read(text, session)
            # What was given stands in the form from here on, also when it came as a file.
            context |= {"sheet": read, "form": _again(text, key)}
            if request.POST.get("do") == "save" and read.good:
                saved = sheet.save(
                    read, session, key=key, by=keeper_name(Reader(request.user)), now=timezone.now()
                )
                messages.success(request, f"{saved} check-ins saved.")
                if not read.bad:
                    return redirect(address_of("log", session))
                rest = sheet.read(read.rest, session)
                # Another key: a row that is mended into one already saved is meant all the same.
                context |= {"sheet": rest, "form": _again(read.rest, uuid.uuid4()), "was_saved": True}
        except (sheet.SheetError, LogRefused) as problem:
            form.add_error(None, problem.sentence)
            context |= {"form": form, "sheet": None}
    return render(request, "nets/log_import.html", context, status=422 if form.errors else 200)


def _text(form: SheetForm) -> str:
    file = form.cleaned_data.get("file")
    text: str = sheet.decode(file.read(sheet.LARGEST_BYTES + 1)) if file else form.cleaned_data["text"]
    return text


def _again(text: str, key: uuid.UUID) -> SheetForm:
    return SheetForm(initial={"text": text, "key": key})
