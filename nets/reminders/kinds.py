"""The nets' kinds of notices, made known to the ledger when the app is ready."""

from __future__ import annotations

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.models import Notice
from nets import swap_letters
from nets.models import Session
from nets.reminders import history, letters, wishes


def watcher(notice: Notice) -> Member | None:
    """The manager of the net a notice is about, unless it was for the manager."""
    session_id, _role = history.chair_of(notice.subject_key)
    session = Session.objects.select_related("net__manager").filter(pk=session_id).first()
    return wishes.manager_of(session.net, other_than=notice.recipient) if session else None


KINDS = (
    kinds.Kind(history.REMINDER, "reminder of a duty", letters.reminder, watcher),
    kinds.Kind(history.CHANGE, "change of a duty", letters.change, watcher, travels_alone=True),
    kinds.Kind(wishes.IN_DOUBT_BACKUP, "chair in doubt, to the backup", letters.doubt, watcher),
    kinds.Kind(
        wishes.IN_DOUBT_MANAGER, "chair in doubt, to the net manager", letters.doubt, may_be_declined=False
    ),
    kinds.Kind(swap_letters.KIND, "turn that somebody offers you", swap_letters.offered),
)


def register() -> None:
    for kind in KINDS:
        kinds.register(kind)
