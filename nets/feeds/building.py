"""Building calendars: what is stale, or everything."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterable, Sequence
from dataclasses import replace
from email.utils import parseaddr
from typing import TypeVar

from django.conf import settings
from django.db.models import Model, Q, QuerySet
from django.utils.translation import gettext

from clubops.members.models import Member
from clubops.notices import languages
from nets import schedule, spoken
from nets.calendars import entries as values
from nets.calendars import feed
from nets.calendars.events import address_of
from nets.calendars.series import lay_out
from nets.feeds import addresses, catalogue, entries, outages, revisions, stored, upkeep
from nets.feeds.catalogue import Subject
from nets.feeds.entries import KEPT
from nets.models import CalendarEntry, FeedKey, Net
from relays.models import Relay

Row = TypeVar("Row", bound=Model)
log = logging.getLogger(__name__)

ALARM_BEFORE = dt.timedelta(minutes=30)
# The oldest a calendar without entries can be; the club's calendars are younger than this.
BEGINNING = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)


def rebuild_touched(*, now: dt.datetime) -> int:
    """Build what has been touched; how many calendars say something new. Safe to repeat, to kill, to double.

    It looks again when it is done, because whoever touched a stale calendar meanwhile relied on this run.
    """
    changed, tried = 0, set[stored.Work]()
    while work := [each for each in stored.stale() if each not in tried]:
        changed += _build(work, now)
        tried.update(work)
    return changed


def rebuild_changed(*, now: dt.datetime) -> int:
    """Build every calendar from the records as they are, whether a change was noticed or not; how many changed."""
    stored.touch(stored.missing(catalogue.every_subject()))
    drop_unasked()
    return _build(stored.everything(), now) + rebuild_touched(now=now)


def drop_unasked() -> int:
    """Forget calendars that nobody can ask for any more; how many."""
    return stored.drop_all_but(catalogue.every_subject())


def renew(member: Member, *, now: dt.datetime) -> FeedKey:
    """A new private address, whose calendar is there at once; the old one stops answering."""
    key = addresses.new_key(member, now=now)
    subject = catalogue.subject_of(member)
    stored.touch([subject])
    _build([work for work in stored.stale() if work.subject == subject], now)
    return key


def _build(work: Sequence[stored.Work], now: dt.datetime) -> int:
    """Build the given calendars; one that cannot be built stays stale and keeps its old bytes."""
    _follow([each.subject for each in work], now)
    maker = Maker(now)
    changed = 0
    for each in work:
        try:
            built = maker.make(each.subject)
        except Gone:
            continue
        except ValueError as problem:
            log.error("The calendar %s cannot be built: %s", each.subject.key, problem)
            continue
        changed += stored.put(each, built, now=now)
    return changed


def _follow(subjects: Iterable[Subject], now: dt.datetime) -> None:
    subjects = list(subjects)
    nets = {each.net_id for each in subjects if each.net_id is not None}
    members = [each.member_id for each in subjects if each.member_id is not None]
    nets |= catalogue.nets_of_members(members, now=now)
    upkeep.follow(members, now=now)
    for net in Net.objects.filter(pk__in=nets).select_related("relay"):
        try:
            revisions.follow(net, now=now)
        except ValueError as problem:
            log.error("What calendars say of “%s” stays as it was: %s", net.name, problem)


class Gone(Exception):
    """What the calendar was about is not there any more."""


class Maker:
    """Makes calendars of one moment; the entries of a net are read once for all calendars they are in."""

    def __init__(self, now: dt.datetime) -> None:
        self._now = now
        self._organizer = organizer()
        self._series: dict[int, list[values.NetSeries]] = {}

    def make(self, subject: Subject) -> feed.BuiltFeed:
        """Build one calendar. Raises `Gone`, and `ValueError` for what no calendar can say."""
        if subject.net_id is not None:
            return self._net(subject, _one(Net.objects.filter(pk=subject.net_id)))
        if subject.relay_id is not None:
            return self._relay(subject, _one(Relay.objects.filter(pk=subject.relay_id)))
        if subject.member_id is not None:
            live = FeedKey.objects.filter(member=subject.member_id, revoked_at=None)
            return self._member(_one(live.select_related("member")))
        return self._club(subject)

    def _net(self, subject: Subject, net: Net) -> feed.BuiltFeed:
        address = addresses.net_address(net, alarms=subject.has_alarms)
        return self._public(subject, net.name, address, net.zone, self._series_of(net))

    def _club(self, subject: Subject) -> feed.BuiltFeed:
        nets = Net.objects.select_related("relay")
        series = [each for net in nets for each in self._series_of(net)]
        address = addresses.club_address(alarms=subject.has_alarms)
        silent = outages.events(now=self._now)
        return self._public(subject, settings.CLUB_NAME, address, settings.CLUB_ZONE, series, silent)

    def _relay(self, subject: Subject, relay: Relay) -> feed.BuiltFeed:
        """The nets that meet on this relay by a rule, single sessions of others that come to it, its outages."""
        at_home: list[values.NetSeries] = []
        visits: list[values.SingleEvent] = []
        for net in Net.objects.filter(
            Q(relay=relay) | Q(earlier_rules__relay=relay) | Q(sessions__relay=relay)
        ).distinct():
            here = {str(rule.series_id) for rule in schedule.rules_of(net) if rule.relay_id == relay.pk}
            series = {each.seed: each for each in self._series_of(net)}
            at_home.extend(each for seed, each in series.items() if seed in here)
            visits.extend(self._visits(net, relay, {k: v for k, v in series.items() if k not in here}))
        address = addresses.relay_address(relay, alarms=subject.has_alarms)
        singles = [*visits, *outages.events(now=self._now, relay=relay)]
        name = f"{relay.name}: nets and outages"
        return self._public(subject, name, address, settings.CLUB_ZONE, at_home, singles)

    def _visits(
        self, net: Net, relay: Relay, elsewhere: dict[str, values.NetSeries]
    ) -> Iterable[values.SingleEvent]:
        rules = schedule.rules_of(net)
        rows = net.calendar_entries.filter(kind=CalendarEntry.Kind.SESSION, ends_at__gt=self._now - KEPT)
        for entry in rows:
            if entry.facts.get("relay") == relay.pk and entry.occurrence_date is not None:
                host = elsewhere.get(entries.series_on(rules, entry.occurrence_date))
                if host is not None:
                    yield entries.visit(entry, host)

    def _member(self, key: FeedKey) -> feed.BuiltFeed:
        """The member's own duties, in their language. SOURCE is left at the site: the address itself is a secret."""
        rows = key.member.calendar_entries.filter(kind=CalendarEntry.Kind.DUTY, ends_at__gt=self._now - KEPT)
        with languages.speaking(key.member):
            about = {"club": settings.CLUB_NAME, "who": key.member.call_sign}
            name = gettext("%(club)s: duties of %(who)s") % about
            duties = [_duty_in_words(entry) for entry in rows]
        return self._finish(
            feed.Feed(
                name=name,
                source_url=settings.SITE_ADDRESS,
                zone=key.member.zone,
                horizon=self._horizon,
                last_modified=BEGINNING,
                alarm_before=_minutes(key.alarm_before_min),
                singles=[
                    *duties,
                    *upkeep.events(key.member, now=self._now),
                ],
            )
        )

    def _public(
        self,
        subject: Subject,
        name: str,
        address: str,
        zone: str,
        series: Sequence[values.NetSeries],
        singles: Sequence[values.SingleEvent] = (),
    ) -> feed.BuiltFeed:
        return self._finish(
            feed.Feed(
                name=name,
                source_url=address,
                zone=zone,
                horizon=self._horizon,
                last_modified=BEGINNING,
                alarm_before=ALARM_BEFORE if subject.has_alarms else None,
                series=series,
                singles=singles,
            )
        )

    def _finish(self, wanted: feed.Feed) -> feed.BuiltFeed:
        wanted = replace(wanted, organizer=self._organizer)
        try:
            return feed.build(wanted)
        except ValueError:
            sound = [series for series in wanted.series if _can_be_written(series, self._horizon)]
            if len(sound) in (0, len(wanted.series)):
                raise
            # One net that no calendar can hold must not keep the others out of it.
            return feed.build(replace(wanted, series=sound))

    @property
    def _horizon(self) -> dt.datetime:
        """The end of next year: it moves once a year, so bytes change only when something does."""
        return dt.datetime(self._now.year + 2, 1, 1, tzinfo=dt.UTC)

    def _series_of(self, net: Net) -> list[values.NetSeries]:
        if net.pk not in self._series:
            self._series[net.pk] = entries.series(net, now=self._now)
        return self._series[net.pk]


def _one(rows: QuerySet[Row]) -> Row:
    row = rows.first()
    if row is None:
        raise Gone
    return row


def _duty_in_words(entry: CalendarEntry) -> values.SingleEvent:
    """A duty with its title in the language spoken just now; what was said of it is kept in English."""
    said = entries.duty_said(entry)
    net_name, _, _ = said.title.rpartition(": ")
    _net, _date, role, _member = entry.seed.split("/")
    return replace(said, title=spoken.duty_title(net_name, role))


def _minutes(minutes: int | None) -> dt.timedelta | None:
    return None if minutes is None else dt.timedelta(minutes=minutes)


def _can_be_written(series: values.NetSeries, horizon: dt.datetime) -> bool:
    try:
        lay_out(series, horizon)
    except ValueError as problem:
        log.error("The net “%s” is left out of a calendar: %s", series.title, problem)
        return False
    return True


def organizer() -> values.Party | None:
    """The club as the organizer of what it publishes (RFC 5546 section 3.2.1), where its address is one."""
    _name, address = parseaddr(settings.DEFAULT_FROM_EMAIL)
    party = values.Party(settings.CLUB_NAME, address)
    try:
        address_of(party)
    except ValueError:
        return None
    return party
