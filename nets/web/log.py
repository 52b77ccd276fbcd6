"""The log page: what net control looks at and types into while the session is on the air."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from clubops import clock
from clubops.members.permissions import Reader
from nets import report
from nets.checkins import entries, rollcall, sync
from nets.checkins.keeping import LogRefused, close_log, evening_of, log_of, open_log, too_early
from nets.checkins.typed import TypedError, read_key
from nets.models import CheckIn, RollCall, Session, SessionLog
from nets.web.log_access import keeper_name, keepers_only
from nets.web.log_forms import CorrectionForm, EntryForm, OpeningForm

# 47 CFR 97.119(a): at the end and at least every ten minutes. Relays say their own; simplex takes this one.
IDENTIFY_EVERY_MIN = 10


def address_of(name: str, session: Session, *more: object) -> str:
    """The address of one of this session's pages."""
    return reverse(f"nets:{name}", args=[session.net.slug, session.occurrence_date.isoformat(), *more])


def entry_form(session: Session, *args: Any, kind: type[EntryForm] = EntryForm, **kwargs: Any) -> EntryForm:
    tonight = session.relay_in_use
    return kind(*args, evening=evening_of(session), tonight=tonight.pk if tonight else None, **kwargs)


@never_cache
@keepers_only
def log_page(request: HttpRequest, session: Session) -> HttpResponse:
    """The whole desk. A POST is an entry from a browser without script."""
    form = entry_form(session, request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            row = entries.record(
                session,
                form.typed,
                key=form.cleaned_data["key"] or uuid.uuid4(),
                by=keeper_name(Reader(request.user)),
                now=timezone.now(),
            )
        except TypedError as problem:
            form.add_error(problem.field if problem.field in form.fields else None, problem.sentence)
        except LogRefused as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, f"{row.call_sign} is in the log.")
            return redirect(address_of("log", session))
    context = desk(request, session) | {"form": form}
    return render(request, "nets/log.html", context, status=422 if form.is_bound else 200)


def desk(request: HttpRequest, session: Session) -> dict[str, Any]:
    """What the page shows beside its form, and what its script starts from."""
    reader = Reader(request.user)
    log = SessionLog.objects.filter(session=session).select_related("net_control").first()
    rows = report.rows_of(session)
    roll = roll_lines(session)
    return {
        "session": session,
        "net": session.net,
        "log": log,
        "opens_at": too_early(session, now=timezone.now()),
        "rows": list(reversed(rows)),
        "stations": max((row.number or 0 for row in rows), default=0),
        "roll": roll,
        "next_line": next((line for line in roll if line["waits"]), None),
        "opening_form": OpeningForm(session=session, writer=reader.member),
        "identify_every_min": _identify_every_min(session),
        "page": _for_the_script(request, session),
    }


def _identify_every_min(session: Session) -> int:
    relay = session.relay_in_use
    return relay.identification_interval_min if relay else IDENTIFY_EVERY_MIN


def roll_lines(session: Session) -> list[dict[str, Any]]:
    """The roll with what became of each line; those taken off are left out."""
    heard = set(session.check_ins.filter(is_struck=False).values_list("call_sign", flat=True))
    return [
        {
            "line": line,
            "is_heard": line.call_sign in heard,
            "waits": line.state == RollCall.State.WAITING and line.call_sign not in heard,
        }
        for line in session.roll.exclude(state=RollCall.State.OFF)
    ]


def _for_the_script(request: HttpRequest, session: Session) -> dict[str, Any]:
    relay = session.relay_in_use
    # The row's own birth tells this log from one of the same name in another database on this address.
    born = int(session.created_at.timestamp())
    return {
        "keptAs": f"{request.user.pk}/{session.net.slug}/{session.occurrence_date}.{born}",
        "from": request.user.pk,
        "who": keeper_name(Reader(request.user)),
        "zone": session.net.zone,
        "now": timezone.now().isoformat(),
        "startsAt": session.starts_at.isoformat(),
        "usualVia": f"relay:{relay.pk}" if relay else CheckIn.Via.SIMPLEX.value,
        "ways": dict(entry_form(session).ways),
        "identifyEveryMin": _identify_every_min(session),
        "urls": {
            "entries": address_of("log_entries", session),
            "names": address_of("log_names", session),
            "worker": address_of("log_worker", session),
            "page": address_of("log", session),
            "entry": address_of("log_entry", session, uuid.UUID(int=0)),
            "report": address_of("report", session),
            "login": f"{reverse('login')}?next={request.path}",
        },
        "log": sync.changes_since(session, 0),
    }


@keepers_only
@require_POST
def log_state(request: HttpRequest, session: Session) -> HttpResponse:
    """Start, close or reopen the session; or put the regulars on the roll."""
    by, now = keeper_name(Reader(request.user)), timezone.now()
    what = request.POST.get("do", "")
    try:
        if what == "close":
            close_log(session, by=by, now=now, remark=request.POST.get("remark"))
            messages.success(request, "The session is closed. This is its report.")
            return redirect(address_of("report", session))
        if what == "roll":
            new = rollcall.make(session, order=request.POST.get("roll", ""), now=now, by=by)
            messages.success(request, f"{new} regular stations put on the roll.")
        elif what == "open":
            _open(request, session, by)
        else:
            raise LogRefused(f"“{what}” is nothing that can be done to a log.")
    except LogRefused as refusal:
        messages.error(request, refusal.sentence)
    return redirect(address_of("log", session))


def _open(request: HttpRequest, session: Session, by: str) -> None:
    form = OpeningForm(request.POST, session=session, writer=Reader(request.user).member)
    chosen = form.cleaned_data if form.is_valid() else {}
    open_log(session, by=by, now=timezone.now(), net_control=chosen.get("net_control"))
    if order := chosen.get("roll"):
        rollcall.make(session, order=order, now=timezone.now(), by=by)
    messages.success(request, "The session has started.")


@keepers_only
@require_POST
def log_roll(request: HttpRequest, session: Session) -> HttpResponse:
    """Tick a line of the roll, skip it, or add one: for browsers without script."""
    by, now = keeper_name(Reader(request.user)), timezone.now()
    try:
        if added := request.POST.get("call_sign"):
            rollcall.add(session, added, by=by)
        else:
            key = read_key(request.POST.get("line"))
            line = get_object_or_404(session.roll, key=key)
            if (state := request.POST.get("state", "")) == "heard":
                entries.record(session, {"call_sign": line.call_sign}, key=key, by=by, now=now)
            else:
                rollcall.set_state(session, key, state, by=by, now=now)
    except (TypedError, LogRefused) as problem:
        messages.error(request, problem.sentence)
    return redirect(address_of("log", session) + "#roll")


@never_cache
@keepers_only
def log_entry(request: HttpRequest, session: Session, key: uuid.UUID) -> HttpResponse:
    """One entry: its history, and a form to correct it."""
    row = session.check_ins.select_related("relay").filter(key=key).first()
    if row is None:
        raise Http404("There is no such entry in this log.")
    posted = request.POST if request.method == "POST" else None
    form = entry_form(session, posted, kind=CorrectionForm, initial=_as_typed(row))
    if request.method == "POST" and form.is_valid():
        try:
            _correct(request, session, row, form)
        except TypedError as problem:
            form.add_error(problem.field if problem.field in form.fields else None, problem.sentence)
        else:
            messages.success(request, f"{row.call_sign} is corrected; what it said before is kept below.")
            return redirect(address_of("log_entry", session, row.key))
    context = {
        "session": session,
        "net": session.net,
        "row": row,
        "form": form,
        "corrections": [
            {"made": each, "differences": report.differences(each)} for each in row.corrections.all()
        ],
        "log": log_of(session),
    }
    return render(request, "nets/log_entry.html", context, status=422 if form.errors else 200)


def _as_typed(row: CheckIn) -> dict[str, Any]:
    """The entry as its form shows it."""
    shown = {
        name: getattr(row, name) for name in ("call_sign", "name", "place", "report", "via_note", "notes")
    }
    over_a_relay = row.relay_id and row.via == CheckIn.Via.RELAY
    return shown | {
        "traffic": row.traffic,
        "is_struck": row.is_struck,
        "via": f"relay:{row.relay_id}" if over_a_relay else row.via,
        "time": f"{clock.to_wall(row.heard_at, row.session.net.zone):%H:%M:%S}",
        "key": uuid.uuid4(),
    }


def _correct(request: HttpRequest, session: Session, row: CheckIn, form: EntryForm) -> None:
    """Only what was changed on the page is sent on: somebody else may have corrected another field meanwhile."""
    changes = {name: form.cleaned_data[name] for name in form.changed_data if name != "key"}
    entries.correct(
        session,
        row.key,
        changes,
        key=form.cleaned_data["key"] or uuid.uuid4(),
        by=keeper_name(Reader(request.user)),
        now=timezone.now(),
    )
