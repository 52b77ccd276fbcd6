"""The mails about turns on offer: to whoever is asked by name, and to the maker when it comes to nothing."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.urls import reverse
from django.utils.dateformat import format as date_format
from django.utils.translation import gettext, pgettext

from clubops.notices import wanted
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.templatetags.measures import wall_time
from nets import spoken
from nets.models import Duty, Session, SwapOffer

KIND = "turn_offered"
NOT_TAKEN = "turn_not_taken"


def tell(offer: SwapOffer, *, now: dt.datetime) -> bool:
    """Enter the notice of an offer made to one person. False when there is nobody to tell, or it is entered."""
    if offer.offered_to_id is None:
        return False
    wish = wanted.Wanted(
        key=f"{KIND}/{offer.pk}/member:{offer.offered_to_id}",
        recipient_id=offer.offered_to_id,
        kind=KIND,
        subject_key=f"swap:{offer.pk}",
        title=_title(offer),
        due_at=None,
        not_after=offer.expires_at,
        event_at=offer.session.starts_at,
    )
    return wanted.enqueue(wish, now=now)


def tell_maker(offer: SwapOffer, *, now: dt.datetime) -> bool:
    """Enter the notice that an offer was declined or ran out while the turn is still ahead, to its maker."""
    if offer.session.starts_at <= now:
        return False
    wish = wanted.Wanted(
        key=f"{NOT_TAKEN}/{offer.pk}/member:{offer.offered_by_id}",
        recipient_id=offer.offered_by_id,
        kind=NOT_TAKEN,
        subject_key=f"swap:{offer.pk}",
        title=_title(offer),
        due_at=None,
        not_after=offer.session.starts_at,
        event_at=offer.session.starts_at,
    )
    return wanted.enqueue(wish, now=now)


def _title(offer: SwapOffer) -> str:
    day = date_format(
        offer.session.occurrence_date, pgettext("short date with its year, two digits", "D d M Y")
    )
    return gettext("Turn offered, %(net)s, %(day)s") % {"net": offer.session.net.name, "day": day}


def titled(notice: Notice) -> str:
    """The title of such a notice in the language spoken just now."""
    offer = _offer_of(notice)
    return _title(offer) if offer else notice.title


def _offer_of(notice: Notice) -> SwapOffer | None:
    rows = SwapOffer.objects.select_related("session__net", "return_session__net", "offered_by", "offered_to")
    return rows.filter(pk=notice.subject_key.partition(":")[2]).first()


def _turn(session: Session, role: str, zone: str) -> str:
    words = {"role": spoken.role(role), "net": session.net.name, "when": wall_time(session.starts_at, zone)}
    return gettext("%(role)s of %(net)s, %(when)s") % words


def offered(notice: Notice, now: dt.datetime) -> Letter:
    """Somebody asks you to take a turn: which, in return for what, until when."""
    offer = _offer_of(notice)
    if offer is None or not offer.is_open(now):
        raise Untrue("The offer is no longer open.")
    zone = notice.recipient.zone
    giver, session = {"who": offer.offered_by.call_sign}, offer.session
    facts = [(gettext("Their turn"), _turn(session, offer.role, zone))]
    line = gettext("%(who)s asks whether you would take a turn of theirs.") % giver
    if offer.return_session is not None:
        line = gettext("%(who)s asks whether you would exchange turns.") % giver
        facts.append((gettext("Your turn in return"), _turn(offer.return_session, offer.return_role, zone)))
    facts.append((gettext("Open until"), wall_time(offer.expires_at, zone)))
    if offer.note:
        facts.append((gettext("They write"), offer.note))
    day = date_format(session.occurrence_date, pgettext("day and short month", "d M"))
    subject = gettext("%(who)s offers you a turn: %(net)s, %(day)s")
    return Letter(
        subject=subject % (giver | {"net": session.net.name, "day": day}),
        lines=(
            line,
            gettext(
                "Until you take it the turn stays theirs; if you cannot, please decline, so that they can ask on."
            ),
        ),
        facts=tuple(facts),
        links=(Link(gettext("Take it or decline"), settings.SITE_ADDRESS + reverse("nets:swaps")),),
    )


def not_taken(notice: Notice, now: dt.datetime) -> Letter:
    """Your offer came to nothing: who said no or that its time is over, and that the turn is still yours."""
    offer = _offer_of(notice)
    if offer is None or offer.session.starts_at <= now:
        raise Untrue("The session has begun.")
    if offer.state == SwapOffer.State.DECLINED and offer.offered_to is not None:
        line = gettext("%(who)s cannot take the turn you offered.") % {"who": offer.offered_to.call_sign}
    elif offer.state == SwapOffer.State.EXPIRED:
        line = gettext("Nobody has taken the turn you offered, and the time you gave is over.")
    else:
        raise Untrue("The offer is open, or was taken or withdrawn.")
    held = offer.session.duties.filter(role=offer.role, member=offer.offered_by_id)
    again = SwapOffer.objects.filter(session=offer.session_id, role=offer.role, state=SwapOffer.State.OPEN)
    if again.exists() or not held.exclude(state=Duty.State.DECLINED).exists():
        raise Untrue("The turn is on offer again, or no longer theirs.")
    session = offer.session
    day = date_format(session.occurrence_date, pgettext("day and short month", "d M"))
    return Letter(
        subject=gettext("The turn is still yours: %(net)s, %(day)s") % {"net": session.net.name, "day": day},
        lines=(line, gettext("Offer it to somebody else, look for a stand-in, or say that you cannot.")),
        facts=((gettext("Your turn"), _turn(session, offer.role, notice.recipient.zone)),),
        links=(Link(gettext("Turns on offer"), settings.SITE_ADDRESS + reverse("nets:swaps")),),
    )
