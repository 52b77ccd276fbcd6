"""Upkeep: the task board, one task with its history, one meter with its readings."""

from __future__ import annotations

import datetime as dt
import uuid

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from clubops.members.permissions import Reader
from clubops.wake import wake
from relays import tasks
from relays.models import Reading, ReadingKind, UpkeepRecord, UpkeepTask
from relays.upkeep import due, hazards, people, plot, readings, records, rhythm, table
from relays.web.upkeep_forms import ReadingForm, VisitForm

HISTORY = 50
ROWS = UpkeepTask.objects.select_related("site__steward", "relay__site__steward", "responsible", "stand_in")


def members_only(request: HttpRequest) -> Reader:
    """The reader, who is in the club."""
    reader = Reader(request.user)
    if not reader.is_member:
        raise PermissionDenied("Upkeep is for members of the club.")
    return reader


def stewards_only(request: HttpRequest) -> Reader:
    """The reader, who looks after relays."""
    reader = Reader(request.user)
    if not reader.tends_relays:
        raise PermissionDenied("Stewards and officers look after papers and keys.")
    return reader


@login_required
@require_safe
@never_cache
def board(request: HttpRequest) -> HttpResponse:
    """What is overdue, due in the next 30 days, and later."""
    members_only(request)
    today = due.club_day(timezone.now())
    found = due.board(today=today)
    groups = (
        ("overdue", "Overdue", found.overdue),
        ("soon", f"Due in the next {due.SOON_DAYS} days", found.soon),
        ("later", "Later", found.later),
    )
    return render(request, "relays/upkeep/board.html", {"groups": groups, "is_empty": not found.everything})


@login_required
@require_safe
@never_cache
def board_file(request: HttpRequest) -> HttpResponse:
    """The board as a table for a spreadsheet (RFC 4180)."""
    stewards_only(request)
    text = table.board_csv(due.board(today=due.club_day(timezone.now())))
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="upkeep.csv"'
    return response


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def task(request: HttpRequest, pk: int) -> HttpResponse:
    """One task: when, how, what can hurt, what was done; and the form that says it was done."""
    reader = members_only(request)
    row = get_object_or_404(ROWS, pk=pk)
    now = timezone.now()
    today = due.club_day(now)
    may_record = people.may_record(reader, row) and row.is_active
    if request.method == "POST" and not may_record:
        raise PermissionDenied("Only whoever is responsible, the stand-in and stewards write this down.")
    form = VisitForm(request.POST or None, task=row, today=today) if may_record else None
    if form is not None and form.is_valid() and _record(request, row, form, reader):
        return redirect("relays:upkeep_task", row.pk)
    context = {
        "task": row,
        "standing": due.standing_of(row, today=today),
        "steward": people.steward_of(row.the_site),
        "often": rhythm.in_words(row.plan),
        "cautions": hazards.named(row.hazards),
        "form": form,
        "history": _history(row),
        "meters": [_meter(kind) for kind in row.reading_kinds.filter(is_active=True)],
    }
    return render(
        request, "relays/upkeep/task.html", context, status=422 if form is not None and form.is_bound else 200
    )


def _record(request: HttpRequest, row: UpkeepTask, form: VisitForm, reader: Reader) -> bool:
    """Write the visit of a valid form down; False when it is refused."""
    try:
        record, made = records.record(row, form.visit(reader.member), now=timezone.now())
    except records.RecordRefused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        return False
    if not made:
        messages.info(request, "This was written down already; nothing was added.")
        return True
    wake(tasks.plan_upkeep)
    messages.success(request, "Written down. Thank you.")
    for reading in record.readings.select_related("kind"):
        judged = readings.judge(reading.kind, reading.value)
        if judged.is_outside:
            messages.warning(request, f"{reading.kind.name}: {judged.sentence}. A steward is told.")
    return True


def _history(row: UpkeepTask) -> list[tuple[UpkeepRecord, list[tuple[str, readings.Judgement]]]]:
    rows = row.records.select_related("by").prefetch_related("readings__kind")[:HISTORY]
    return [
        (
            record,
            [
                (reading.kind.name, readings.judge(reading.kind, reading.value))
                for reading in record.readings.all()
            ],
        )
        for record in rows
    ]


def _meter(kind: ReadingKind) -> dict[str, object]:
    newest = readings.newest(kind, 1)
    return {
        "kind": kind,
        "newest": newest[0] if newest else None,
        "judged": readings.judge(kind, newest[0].value) if newest else None,
        "limits": readings.limits_in_words(kind),
    }


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def reading(request: HttpRequest, pk: int) -> HttpResponse:
    """One meter: its readings drawn with their limits, what they tend to, and a form for one more."""
    reader = members_only(request)
    kind = get_object_or_404(ReadingKind.objects.select_related("task__site", "task__relay__site"), pk=pk)
    may_record = people.may_record(reader, kind.task) and kind.is_active
    if request.method == "POST" and not may_record:
        raise PermissionDenied("Only whoever is responsible, the stand-in and stewards write this down.")
    form = ReadingForm(request.POST or None, kind=kind) if may_record else None
    if form is not None and form.is_valid() and _log(request, kind, form, reader):
        return redirect("relays:upkeep_reading", kind.pk)
    rows = readings.newest(kind)
    outlook = readings.outlook(kind, rows)
    context = {
        "kind": kind,
        "task": kind.task,
        "rows": [_line(kind, row) for row in rows],
        "limits": readings.limits_in_words(kind),
        "outlook": outlook,
        "plot": plot.readings_plot(kind, rows, outlook, zone=settings.CLUB_ZONE),
        "cautions": hazards.named(kind.task.hazards),
        "form": form,
        "zone": settings.CLUB_ZONE,
    }
    return render(
        request,
        "relays/upkeep/reading.html",
        context,
        status=422 if form is not None and form.is_bound else 200,
    )


def _line(kind: ReadingKind, row: Reading) -> tuple[Reading, readings.Judgement, str, dt.date]:
    judged = readings.judge(kind, row.value)
    return row, judged, readings.figure(row.value, kind.unit), due.club_day(row.at)


def _log(request: HttpRequest, kind: ReadingKind, form: ReadingForm, reader: Reader) -> bool:
    token: uuid.UUID = form.cleaned_data["token"]
    try:
        row, made = readings.log(
            kind, form.cleaned_data["value"], at=timezone.now(), by=reader.member, token=token
        )
    except readings.ReadingRefused as refusal:
        form.add_error("value", str(refusal))
        return False
    judged = readings.judge(kind, row.value)
    if not made:
        messages.info(request, "This was written down already; nothing was added.")
    elif judged.is_outside:
        messages.warning(request, f"Written down: {judged.sentence}. A steward is told.")
    else:
        messages.success(request, f"Written down: {judged.sentence}.")
    wake(tasks.plan_upkeep)
    return True
