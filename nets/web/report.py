"""The report of a session, what can be taken away from it, and what the reports of a net add up to."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from clubops.members.permissions import Reader
from nets import calibration, charts, report, statistics
from nets.exports import adif, comms_log, table
from nets.models import Net, Session
from nets.web.access import members_only
from nets.web.log_access import keeper_name, may_keep_log
from nets.web.schedule import find_session


@members_only
def report_page(request: HttpRequest, slug: str, date: str) -> HttpResponse:
    """Who came, by what path, with what traffic, and what was changed after closing."""
    session = find_session(slug, date)
    made = report.report(session)
    context = {
        "session": session,
        "net": session.net,
        "report": made,
        "log": made.log,
        "calibration": calibration.calibration(session=session),
        "may_keep_log": may_keep_log(Reader(request.user), session),
    }
    return render(request, "nets/report.html", context)


@members_only
def report_file(request: HttpRequest, slug: str, date: str, kind: str) -> HttpResponse:
    """The log as ADIF (adi, adx) or as a table (csv)."""
    session = find_session(slug, date)
    made = report.report(session)
    if kind == "csv":
        return _file(table.csv_text(made).encode(), "text/csv; charset=utf-8", session, kind)
    if kind not in {"adi", "adx"}:
        raise Http404(f"A log is not written as “{kind}”.")
    contacts, left_out = adif.records(made)
    now = timezone.now()
    if kind == "adx":
        return _file(adif.adx(contacts, now=now), "application/xml", session, kind)
    title = f"{session.net.name}, {session.occurrence_date}"
    text = adif.adi(contacts, title=title, left_out=left_out, now=now)
    return _file(text.encode("ascii"), "text/plain; charset=us-ascii", session, kind)


def _file(content: bytes, content_type: str, session: Session, kind: str) -> HttpResponse:
    response = HttpResponse(content, content_type=content_type)
    name = f"{session.net.slug}-{session.occurrence_date}.{kind}"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


@members_only
def comms_log_page(request: HttpRequest, slug: str, date: str) -> HttpResponse:
    """The communications log as sheets to print."""
    session = find_session(slug, date)
    reader = Reader(request.user)
    name = f"{reader.member.name}, {reader.member.call_sign}" if reader.member else keeper_name(reader)
    sheet = comms_log.comms_log(
        report.report(session),
        incident=request.GET.get("incident", "").strip()[:80],
        prepared_by=name,
        now=timezone.now(),
    )
    context = {"session": session, "net": session.net, "sheet": sheet}
    return render(request, "nets/report_comms_log.html", context)


@members_only
def statistics_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Attendance over time, who is missed, turns in the chair, predictions beside check-ins."""
    net = get_object_or_404(Net, slug=slug)
    found = statistics.statistics(net, now=timezone.now())
    context = {
        "net": net,
        "statistics": found,
        "attendance_chart": charts.attendance_chart(found.attendance),
        "turns_chart": charts.turns_chart(found.turns),
        "calibration": calibration.calibration(net=net),
        "enough": calibration.ENOUGH,
    }
    return render(request, "nets/statistics.html", context)
