"""The words of a notice about an outage, written when it is sent, from the records as they are then."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from clubops.notices import kinds
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.notices.templatetags.ledger import short_time
from clubops.templatetags.measures import wall_time
from nets import spoken
from nets.reminders.outages import OVER, PLANNED, UNFORESEEN, Concern, concerns, outage_id, title_of
from relays.models import Outage

_EFFECTS = {
    Outage.Effect.OFF_AIR.value: gettext_noop("%(relay)s is off the air"),
    Outage.Effect.REDUCED.value: gettext_noop("%(relay)s is on the air, reduced"),
}


def outage(notice: Notice, now: dt.datetime) -> Letter:
    """Which relay, from when until when and why; which of the reader's sessions fall into it."""
    its = _outage_of(notice)
    if its.is_called_off:
        raise Untrue("The outage was called off.")
    if its.ends_at is not None and its.ends_at <= now:
        raise Untrue("The outage is over.")
    concern = next((each for each in concerns([its], now=now) if each.member.pk == notice.recipient_id), None)
    if concern is None:
        raise Untrue("No session of theirs falls into the outage any more.")
    zone = notice.recipient.zone
    what = gettext(_EFFECTS[its.effect]) % {"relay": its.relay.name}
    words = {"what": what, "when": short_time(its.starts_at, zone)}
    subject = (
        gettext("%(what)s from %(when)s") if _is_first(notice) else gettext("Changed: %(what)s from %(when)s")
    )
    return Letter(
        subject=subject % words,
        lines=(
            gettext("%(what)s from %(when)s, and sessions that concern you fall into that time.") % words,
            gettext("A net manager can move a session to another relay or hour, or call it off."),
        ),
        facts=(*_facts(its, zone), *_sessions_of(concern, zone)),
        links=(*_pages(concern), Link(its.relay.name, _url("relays:page", its.relay.slug))),
        told={"ends_at": its.ends_at.isoformat() if its.ends_at else None},
    )


def _is_first(notice: Notice) -> bool:
    """Whether the reader has heard of this outage before."""
    before = Notice.objects.filter(
        recipient=notice.recipient_id, subject_key=notice.subject_key, state=Notice.State.SENT
    )
    return not before.filter(kind__in=(PLANNED, UNFORESEEN)).exclude(pk=notice.pk).exists()


def _facts(outage: Outage, zone: str) -> Iterator[tuple[str, str]]:
    yield gettext("From"), wall_time(outage.starts_at, zone)
    until = wall_time(outage.ends_at, zone) if outage.ends_at else gettext("nobody knows yet")
    yield gettext("Until"), until
    yield gettext("Why"), outage.reason


def _sessions_of(concern: Concern, zone: str) -> Iterator[tuple[str, str]]:
    for pk, session in concern.sessions.items():
        held = ", ".join(spoken.role(role) for role in concern.roles[pk])
        told = f"{session.net.name}, {short_time(session.starts_at, zone)}"
        yield gettext("Falls into it"), f"{told} ({held})" if held else told


def _pages(concern: Concern) -> Iterator[Link]:
    for session in concern.sessions.values():
        on = session.occurrence_date
        yield Link(
            f"{session.net.name}, {spoken.short_date(on)}", _url("nets:session", session.net.slug, f"{on}")
        )


def over(notice: Notice, now: dt.datetime) -> Letter:
    """It is back, or it will not be off at all."""
    its = _outage_of(notice)
    if not its.is_called_off and (its.ends_at is None or its.ends_at > now):
        raise Untrue("The outage goes on after all.")
    zone = notice.recipient.zone
    words = {"relay": its.relay.name, "when": short_time(its.starts_at, zone)}
    if its.is_called_off:
        subject = gettext("Called off: the outage of %(relay)s on %(when)s") % words
        line = (
            gettext("The outage of %(relay)s on %(when)s, of which we told you, does not take place.") % words
        )
    else:
        assert its.ends_at is not None
        words["when"] = short_time(its.ends_at, zone)
        subject = gettext("%(relay)s is back") % words
        line = gettext("%(relay)s has been back since %(when)s. What is planned on it stands.") % words
    return Letter(
        subject=subject,
        lines=(line,),
        links=(Link(its.relay.name, _url("relays:page", its.relay.slug)),),
    )


def _url(name: str, *args: str) -> str:
    return str(settings.SITE_ADDRESS + reverse(name, args=args))


def _outage_of(notice: Notice) -> Outage:
    outage = Outage.objects.select_related("relay").filter(pk=outage_id(notice.subject_key)).first()
    if outage is None:
        raise Untrue("The outage is not in the records any more.")
    return outage


def titled(notice: Notice) -> str:
    """What the notice is about, in the language spoken just now."""
    outage = Outage.objects.select_related("relay").filter(pk=outage_id(notice.subject_key)).first()
    return title_of(outage) if outage else notice.title


KINDS = (
    kinds.Kind(PLANNED, gettext_noop("planned outage of a relay"), outage, titled=titled),
    kinds.Kind(UNFORESEEN, gettext_noop("relay that fell silent"), outage, is_urgent=True, titled=titled),
    kinds.Kind(OVER, gettext_noop("end of an outage"), over, titled=titled),
)
