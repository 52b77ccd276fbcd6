"""The mail that tells somebody that a turn is offered to them by name."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.urls import reverse

from clubops.notices import wanted
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.templatetags.measures import wall_time
from nets.models import SwapOffer

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
        title=f"Turn offered, {offer.session.net.name}, {offer.session.occurrence_date:%a %d %b %Y}",
        due_at=None,
        not_after=offer.expires_at,
        event_at=offer.session.starts_at,
    )
    return wanted.enqueue(wish, now=now)


def offered(notice: Notice, now: dt.datetime) -> Letter:
    """Somebody asks you to take a turn: which, in return for what, until when."""
    rows = SwapOffer.objects.select_related("session__net", "return_session__net", "offered_by")
    offer = rows.filter(pk=notice.subject_key.partition(":")[2]).first()
    if offer is None or not offer.is_open(now):
        raise Untrue("The offer is no longer open.")
    zone = notice.recipient.zone
    giver, role, session = offer.offered_by.call_sign, offer.get_role_display(), offer.session
    facts = [("Their turn", f"{role} of {session.net.name}, {wall_time(session.starts_at, zone)}")]
    line = f"{giver} asks whether you would take a turn of theirs."
    if offer.return_session is not None:
        line = f"{giver} asks whether you would exchange turns."
        back = offer.return_session
        facts.append(
            (
                "Your turn in return",
                f"{offer.get_return_role_display()} of {back.net.name}, {wall_time(back.starts_at, zone)}",
            )
        )
    facts.append(("Open until", wall_time(offer.expires_at, zone)))
    if offer.note:
        facts.append(("They write", offer.note))
    return Letter(
        subject=f"{giver} offers you a turn: {session.net.name}, {session.occurrence_date:%d %b}",
        lines=(
            line,
            "Until you take it the turn stays theirs; if you cannot, please decline, so that they can ask on.",
        ),
        facts=tuple(facts),
        links=(Link("Take it or decline", settings.SITE_ADDRESS + reverse("nets:swaps")),),
    )
