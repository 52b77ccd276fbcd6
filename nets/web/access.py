"""Who may open a page: an outsider is sent to log in, a member without the role is told no."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from clubops.members.models import Member
from clubops.members.permissions import Reader

View = Callable[..., HttpResponse]


def reader_who(may: Callable[[Reader], bool]) -> Callable[[View], View]:
    """A decorator that lets a view be opened by readers of whom `may` is true."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
            reader = Reader(request.user)
            if may(reader):
                return view(request, *args, **kwargs)
            if request.user.is_authenticated:
                raise PermissionDenied
            return redirect_to_login(request.get_full_path())

        return guarded

    return decorate


members_only = reader_who(lambda reader: reader.is_member)
roster_only = reader_who(lambda reader: reader.member is not None)
net_managers_only = reader_who(lambda reader: reader.manages_nets)
officers_only = reader_who(lambda reader: reader.is_officer)


def own_entry(request: HttpRequest) -> Member:
    """The reader's own roster entry; `roster_only` has seen to it that there is one."""
    member = Reader(request.user).member
    if member is None:
        raise PermissionDenied
    return member
