"""Who may keep a session's log: its net control and backup, the net's managers, and officers."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from clubops.members.permissions import Reader
from nets.models import Duty, Session
from nets.web.schedule import find_session

LogView = Callable[..., HttpResponse]


def may_keep_log(reader: Reader, session: Session) -> bool:
    """True for whoever sits in a chair of this session (a declined duty is none), manages the net, or all nets."""
    if reader.manages_nets:
        return True
    member = reader.member
    if member is None:
        return False
    if session.net.manager_id == member.pk:
        return True
    return session.duties.filter(member=member).exclude(state=Duty.State.DECLINED).exists()


def keeper_name(reader: Reader) -> str:
    """How the log names the person who writes in it; it stays when the login is gone."""
    return reader.member.call_sign if reader.member else reader.user.get_username()


def keepers_only(view: LogView) -> LogView:
    """Opens a view to those who may keep the log; the view is given the session in place of slug and date."""

    @wraps(view)
    def guarded(request: HttpRequest, slug: str, date: str, **kwargs: object) -> HttpResponse:
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        session = find_session(slug, date)
        if not may_keep_log(Reader(request.user), session):
            raise PermissionDenied
        return view(request, session, **kwargs)

    return guarded
