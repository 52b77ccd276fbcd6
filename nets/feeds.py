"""The club's calendars: built when something changes, stored, served as they are."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from clubops.members.models import Member
from nets.calendars import entries, feed, identity
from nets.models import Duty, FeedKey, Net, Session, StoredCalendar

CLUB = "club"
# Cancelled and changed sessions stay this long so that every client has seen them.
KEPT = dt.timedelta(days=120)


def net_key(net: Net) -> str:
    return f"net:{net.pk}"


def member_key(member: Member) -> str:
    return f"member:{member.pk}"


# Addresses -----------------------------------------------------------------------------------------


def _absolute(path: str) -> str:
    return settings.SITE_ADDRESS + path


def club_address() -> str:
    return _absolute(reverse("nets:club_feed"))


def net_address(net: Net) -> str:
    return _absolute(reverse("nets:net_feed", args=[net.slug]))


def member_address(member: Member) -> str:
    """The member's private address, or nothing when they have switched it off or never asked for one."""
    key = member.feed_keys.filter(revoked_at=None).first()
    return _absolute(reverse("nets:member_feed", args=[key.token])) if key else ""


def revoke(member: Member, *, now: dt.datetime) -> None:
    """Switch the member's private address off for good."""
    member.feed_keys.filter(revoked_at=None).update(revoked_at=now)


@transaction.atomic
def renew(member: Member, *, now: dt.datetime) -> FeedKey:
    """A new private address; the old one stops answering."""
    # The member's row is the lock: two clicks at once give one live address.
    Member.objects.select_for_update().get(pk=member.pk)
    revoke(member, now=now)
    return FeedKey.objects.create(member=member)


# Entries -------------------------------------------------------------------------------------------


def _place(session_or_net: Session | Net) -> str:
    """Where to listen, in words: a relay's or a simplex frequency. Never a person's place."""
    relay = session_or_net.relay_in_use if isinstance(session_or_net, Session) else session_or_net.relay
    net = session_or_net.net if isinstance(session_or_net, Session) else session_or_net
    if relay is None:
        return f"Simplex {net.simplex_mhz:.3f} MHz"
    return f"{relay.name}, {relay.output_mhz:.3f} MHz"


def _changed(session: Session) -> entries.ChangedSession:
    return entries.ChangedSession(
        occurrence_date=session.occurrence_date,
        starts_at=session.starts_at,
        duration=session.ends_at - session.starts_at,
        sequence=session.sequence,
        last_modified=session.changed_at,
        status="cancelled" if session.state == Session.State.CANCELLED else "confirmed",
        description=session.note or None,
        location=_place(session) if session.relay else None,
    )


def series(net: Net, *, now: dt.datetime) -> entries.NetSeries:
    """A net as a calendar series with every session that departs, or has ever departed, from its rule."""
    rows = net.sessions.filter(ends_at__gt=now - KEPT).select_related("net", "relay")
    departed = [each for each in rows if each.sequence or each.is_extra or each.moved_to or each.relay_id]
    return entries.NetSeries(
        seed=str(net.public_id),
        title=net.name,
        zone=net.zone,
        first_wall=net.first_wall,
        duration=net.duration,
        rule=net.rule,
        sequence=net.sequence,
        created=net.created_at,
        last_modified=net.changed_at,
        description=net.description,
        location=_place(net),
        url=_absolute(reverse("nets:page", args=[net.slug])),
        last_date=net.ends_on,
        changed=tuple(_changed(each) for each in departed),
    )


def revise_net(net: Net) -> None:
    """Raise the net's SEQUENCE when its calendars would say something new about when or where it meets."""
    stored = identity.Revision(net.sequence, net.calendar_digest) if net.calendar_digest else None
    revised = identity.revise(
        stored, net.rule, net.first_wall, net.zone, net.duration_min, net.ends_on, _place(net), net.is_active
    )
    if revised != stored:
        net.sequence, net.calendar_digest = revised.sequence, revised.digest
        # update(): the change was made elsewhere and must not look like a new one.
        Net.objects.filter(pk=net.pk).update(sequence=net.sequence, calendar_digest=net.calendar_digest)


def duty_event(duty: Duty) -> entries.SingleEvent:
    """A duty as an event that blocks its holder's time."""
    session, net = duty.session, duty.session.net
    called_off = session.state == Session.State.CANCELLED
    return entries.SingleEvent(
        kind="duty",
        seed=f"{net.public_id}/{session.occurrence_date}/{duty.role}/{duty.member_id}",
        title=f"{net.name}: {duty.get_role_display()}",
        starts_at=session.starts_at,
        duration=session.ends_at - session.starts_at,
        # A counter that is never lower than any it was published with: all three only rise.
        sequence=duty.sequence + session.sequence + net.sequence,
        created=duty.assigned_at,
        last_modified=max(duty.changed_at, session.changed_at, net.changed_at),
        status="cancelled" if called_off or duty.state == Duty.State.DECLINED else "confirmed",
        location=_place(session),
        url=_absolute(reverse("nets:session", args=[net.slug, session.occurrence_date.isoformat()])),
        busy=True,
    )


# Building and keeping ------------------------------------------------------------------------------


def _horizon(now: dt.datetime) -> dt.datetime:
    """The end of next year: it moves once a year, so bytes change only when something does."""
    return dt.datetime(now.year + 2, 1, 1, tzinfo=dt.UTC)


def build_net(net: Net, *, now: dt.datetime) -> feed.BuiltFeed:
    return _build(
        net.name, net_address(net), net.created_at, now, series=[series(net, now=now)], zone=net.zone
    )


def build_club(*, now: dt.datetime) -> feed.BuiltFeed:
    nets = Net.objects.filter(is_active=True).select_related("relay")
    began = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
    return _build(
        settings.CLUB_NAME, club_address(), began, now, series=[series(net, now=now) for net in nets]
    )


def build_member(member: Member, *, now: dt.datetime) -> feed.BuiltFeed:
    """The member's own duties. SOURCE is left at the site: the address itself is a secret."""
    held = Duty.objects.filter(member=member, session__ends_at__gt=now - KEPT)
    rows = held.select_related("session__net__relay", "session__relay")
    began = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
    return _build(
        f"{settings.CLUB_NAME}: duties of {member.call_sign}",
        settings.SITE_ADDRESS,
        began,
        now,
        singles=[duty_event(duty) for duty in rows],
        zone=member.zone,
    )


def _build(
    name: str,
    address: str,
    oldest: dt.datetime,
    now: dt.datetime,
    *,
    series: list[entries.NetSeries] | None = None,
    singles: list[entries.SingleEvent] | None = None,
    zone: str = "",
) -> feed.BuiltFeed:
    return feed.build(
        feed.Feed(
            name=name,
            source_url=address,
            zone=zone or settings.CLUB_ZONE,
            horizon=_horizon(now),
            last_modified=oldest,
            series=series or [],
            singles=singles or [],
        )
    )


def _store(key: str, built: feed.BuiltFeed, now: dt.datetime) -> bool:
    """Keep a built calendar; false when its bytes were there already, so that ETag and date stay."""
    stored = StoredCalendar.objects.filter(key=key).only("etag").first()
    if stored is not None and stored.etag == built.etag:
        return False
    StoredCalendar.objects.update_or_create(
        key=key, defaults={"body": built.content, "etag": built.etag, "modified_at": now}
    )
    return True


def rebuild_changed(*, now: dt.datetime) -> int:
    """Build every calendar and keep those whose bytes changed; how many did. Safe to repeat and to kill."""
    changed = 0
    for net in Net.objects.select_related("relay"):
        revise_net(net)
        changed += _store(net_key(net), build_net(net, now=now), now)
    changed += _store(CLUB, build_club(now=now), now)
    for member in Member.objects.filter(feed_keys__revoked_at=None, feed_keys__isnull=False):
        changed += _store(member_key(member), build_member(member, now=now), now)
    return changed
