"""The club's calendars: built when something changes, stored, served as they are.

`entries` turns rows into the plain values of `nets.calendars`, `revisions` remembers what each entry said last,
`catalogue` knows which calendars there are and what a change touches, `stored` keeps their bytes, `building` joins
the three, `addresses` gives and revokes the private ones.
"""

from nets.feeds.addresses import (
    club_address,
    member_address,
    net_address,
    public_offers,
    relay_address,
    revoke,
    set_alarm,
)
from nets.feeds.building import drop_unasked, rebuild_changed, rebuild_touched, renew
from nets.feeds.catalogue import Scope, every_subject, touched_by
from nets.feeds.entries import duty_event, series
from nets.feeds.revisions import follow
from nets.feeds.stored import touch

__all__ = [
    "Scope",
    "club_address",
    "drop_unasked",
    "duty_event",
    "every_subject",
    "follow",
    "member_address",
    "net_address",
    "public_offers",
    "rebuild_changed",
    "rebuild_touched",
    "relay_address",
    "renew",
    "revoke",
    "series",
    "set_alarm",
    "touch",
    "touched_by",
]
