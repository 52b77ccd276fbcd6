"""The mail that tells somebody that a turn is offered to them by name."""

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
from nets.models import Session, SwapOffer

KIND = "turn_offered"


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
    rows = SwapOffer.objects.select_related("session__net", "return_session__net", "offered_by")
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
