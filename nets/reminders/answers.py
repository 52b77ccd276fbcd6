"""The signed link by which a person says yes or no to a duty without logging in."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.core import signing
from django.urls import reverse

from nets.models import Duty
from nets.reminders import wishes

SALT = "nets.reminders.answer"
# A rota may run two years ahead, and its invitations go out at once; what is over is refused in any case.
GOOD_FOR = dt.timedelta(days=800)


class LinkRefused(ValueError):
    """A link that answers nothing any more; the sentence says why."""


class LinkForged(ValueError):
    """A link this installation did not make."""


def url_for(duty: Duty) -> str:
    """The address for this duty and its holder. It names nobody, expires, and dies with the duty."""
    token = signing.dumps([duty.pk, duty.member_id], salt=SALT)
    return settings.SITE_ADDRESS + reverse("nets:answer_by_link", args=[token])


def duty_of(token: str, *, now: dt.datetime) -> Duty:
    """The duty behind a link. Raises `LinkForged`, or `LinkRefused` when there is nothing left to answer."""
    try:
        duty_id, member_id = signing.loads(token, salt=SALT, max_age=GOOD_FOR)
    except signing.SignatureExpired:
        raise LinkRefused("This link has expired. Log in to answer for your duties.") from None
    except (signing.BadSignature, ValueError, TypeError):
        raise LinkForged("This link was not made here.") from None
    duty = (
        Duty.objects.select_related("session__net__relay", "session__relay", "member")
        .filter(pk=duty_id, member=member_id)
        .first()
    )
    if duty is None:
        raise LinkRefused("This duty is no longer yours; there is nothing to answer.")
    if duty.session.starts_at <= now:
        raise LinkRefused("This session has begun or is over; there is nothing to answer.")
    if duty.state != Duty.State.DECLINED and not wishes.is_on(duty):
        raise LinkRefused("This session has been called off; there is nothing to answer.")
    return duty
