"""The nets' kinds of notices, made known to the ledger when the app is ready."""

from __future__ import annotations

from django.utils.translation import gettext_noop

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.models import Notice
from nets import swap_letters
from nets.models import Session
from nets.reminders import history, letters, outage_letters, wishes


def watcher(notice: Notice) -> Member | None:
    """The manager of the net a notice is about, unless it was for the manager."""
    session_id, _role = history.chair_of(notice.subject_key)
    session = Session.objects.select_related("net__manager").filter(pk=session_id).first()
    return wishes.manager_of(session.net, other_than=notice.recipient) if session else None


def titled(notice: Notice) -> str:
    """What a notice about a chair is about, in the language spoken just now."""
    session_id, role = history.chair_of(notice.subject_key)
    session = Session.objects.select_related("net").filter(pk=session_id).first()
    return wishes.title_of(session, role) if session else notice.title


KINDS = (
    kinds.Kind(
        history.REMINDER, gettext_noop("reminder of a duty"), letters.reminder, watcher, titled=titled
    ),
    kinds.Kind(
        history.CHANGE,
        gettext_noop("change of a duty"),
        letters.change,
        watcher,
        travels_alone=True,
        titled=titled,
    ),
    kinds.Kind(
        wishes.IN_DOUBT_BACKUP,
        gettext_noop("chair in doubt, to the backup"),
        letters.doubt,
        watcher,
        titled=titled,
    ),
    kinds.Kind(
        wishes.IN_DOUBT_MANAGER,
        gettext_noop("chair in doubt, to the net manager"),
        letters.doubt,
        may_be_declined=False,
        titled=titled,
    ),
    kinds.Kind(
        swap_letters.KIND,
        gettext_noop("turn that somebody offers you"),
        swap_letters.offered,
        titled=swap_letters.titled,
    ),
    kinds.Kind(
        swap_letters.NOT_TAKEN,
        gettext_noop("offer of yours that came to nothing"),
        swap_letters.not_taken,
        titled=swap_letters.titled,
    ),
    *outage_letters.KINDS,
)


def register() -> None:
    for kind in KINDS:
        kinds.register(kind)
