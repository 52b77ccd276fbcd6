"""What a person has chosen to get, the link that stops it, and what is coming for them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.urls import reverse

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.models import Choice, Notice
from clubops.notices.policy import Policy, QuietHours

UNSUBSCRIBE_SALT = "clubops.notices.unsubscribe"


def of(member: Member) -> Choice:
    """The member's choices; the defaults, unsaved, where none were made."""
    try:
        choice: Choice = member.notice_choice
        return choice
    except Choice.DoesNotExist:
        return Choice(member=member)


def quiet_hours(member: Member, policy: Policy) -> QuietHours | None:
    """The member's own quiet hours, else the club's."""
    choice = of(member)
    if choice.quiet_from is None or choice.quiet_until is None or choice.quiet_from == choice.quiet_until:
        return policy.quiet
    return QuietHours(choice.quiet_from, choice.quiet_until)


def declines(member: Member, kind: kinds.Kind) -> bool:
    """Whether the member does without this kind."""
    return kind.may_be_declined and (not member.wants_reminders or kind.name in of(member).unwanted)


def refusals(kind_names: Collection[str]) -> set[tuple[int, str]]:
    """Every (member, kind) of these kinds that is not wanted."""
    names = {kind.name for kind in kinds.declinable()} & set(kind_names)
    silent = Member.objects.filter(wants_reminders=False).values_list("pk", flat=True)
    found = {(pk, name) for pk in silent for name in names}
    for pk, unwanted in Choice.objects.exclude(unwanted=[]).values_list("member_id", "unwanted"):
        found.update((pk, name) for name in names.intersection(unwanted))
    return found


# The link in every mail ------------------------------------------------------------------------------


def unsubscribe_url(member: Member) -> str:
    """The address that stops reminders for this member; it names nobody and needs no login."""
    return settings.SITE_ADDRESS + reverse("notices:unsubscribe", args=[_signer().sign(str(member.pk))])


def member_of_link(token: str) -> Member | None:
    """Whom an unsubscribe link is about; None for a link this installation did not make."""
    try:
        return Member.objects.filter(pk=int(_signer().unsign(token))).first()
    except (signing.BadSignature, ValueError):
        return None


def _signer() -> signing.Signer:
    # It does not expire: a person may want to stop the club's mail with the oldest one they still have.
    return signing.Signer(salt=UNSUBSCRIBE_SALT)


def set_reminders(member: Member, *, wanted: bool) -> bool:
    """Switch all reminders of a member on or off. False when they were so already.

    A duty holder who switches them off is told of to the net manager by a rule that looks at the roster, so
    that it does not matter on which page or in which mail they did it.
    """
    changed = (
        Member.objects.filter(pk=member.pk).exclude(wants_reminders=wanted).update(wants_reminders=wanted)
    )
    member.wants_reminders = wanted
    return bool(changed)


# What is coming --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Coming:
    """A notice on its way: when it is to be expected (aware), its kind in words, what it is about."""

    at: dt.datetime
    words: str
    title: str
    event_at: dt.datetime | None


def coming_for(member: Member, *, now: dt.datetime, policy: Policy) -> list[Coming]:
    """What this member will get and when, earliest first, quiet hours counted in."""
    quiet = quiet_hours(member, policy)
    found = []
    for notice in member.notices.filter(
        state__in=[Notice.State.WAITING, Notice.State.CLAIMED], not_after__gte=now
    ):
        ready = max(notice.next_try_at, now)
        held = policy.hold_until(
            ready, zone=member.zone, quiet=quiet, not_after=notice.not_after, event_at=notice.event_at
        )
        found.append(Coming(held or ready, kinds.words(notice.kind), notice.title, notice.event_at))
    return sorted(found, key=lambda each: (each.at, each.title))
