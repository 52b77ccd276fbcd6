"""What the demo prints: the club's week in plain words, ready to be checked against the pages."""

from __future__ import annotations

import datetime as dt

from rich.console import Group
from rich.table import Table
from rich.text import Text

from clubops import clock
from clubops.members.models import Member
from clubops.notices.models import Notice
from nets import agenda, demo, duties, feeds
from nets.models import Net
from relays import paths
from relays.models import Relay

ROTA_SHOWN = dt.timedelta(weeks=4)


def summary(*, now: dt.datetime, address: str) -> Group:
    """Relays, candidates with their margins, four weeks of rota, the calendar address, the logins."""
    return Group(
        _heading("Relays"),
        _relays(),
        _heading("Who could be net control, and does the relay hear them?"),
        _candidates(now),
        _heading("The next four weeks"),
        _rota(now),
        _heading("Notices"),
        _notices(now),
        _heading("Ways in"),
        _ways_in(address),
    )


def _heading(words: str) -> Text:
    return Text(f"\n{words}", style="bold")


def _table(*columns: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in columns:
        table.add_column(name, justify="right" if name.endswith(("dB", "MHz")) else "left")
    return table


def _relays() -> Table:
    table = _table("Relay", "Listen MHz", "Send MHz", "Access", "State")
    for relay in Relay.objects.select_related("site"):
        access = (
            f"tone {relay.access_tone_hz} Hz" if relay.access_tone_hz else f"code {relay.access_code or '-'}"
        )
        table.add_row(
            relay.name,
            f"{relay.output_mhz:.3f}",
            f"{relay.input_mhz:.3f}",
            access,
            relay.get_status_display(),
        )
    return table


def _candidates(now: dt.datetime) -> Table:
    """Everybody who takes the chair, against each net's own limits."""
    table = _table("Net", "Member", "From", "In dB", "Out dB", "Verdict")
    people = Member.objects.filter(is_active=True, takes_the_chair=True).prefetch_related("stations")
    for net in Net.objects.exclude(relay=None).select_related("relay__site"):
        for member in people:
            station = duties.station_for(member)
            if station is None or net.relay is None:
                continue
            stored = paths.verdict_now(station, net.relay, now=now)
            limits = {
                "minimum_margin_db": net.minimum_margin_db,
                "minimum_probability": net.minimum_probability,
            }
            judged = paths.standing_of(stored, net.relay, **limits).verdict
            table.add_row(
                net.name,
                member.call_sign,
                station.name,
                _margin(stored.talk_in_margin_db),
                _margin(stored.talk_out_margin_db),
                judged.label if judged else "no answer",
            )
    return table


def _margin(value_db: float | None) -> str:
    return "-" if value_db is None else f"{value_db:+.1f}"


def _rota(now: dt.datetime) -> Table:
    table = _table("When", "Net", "Net control", "Backup")
    for seats in agenda.between(now, now + ROTA_SHOWN):
        wall = clock.to_wall(seats.session.starts_at, seats.session.net.zone)
        names = [
            holder.member.call_sign if holder else "guests" if seats.session.net.guest_of else "wanted"
            for _, _, holder in seats.duties
        ]
        table.add_row(f"{wall:%a} {wall.day} {wall:%b %H:%M}", seats.session.net.name, *names)
    return table


def _notices(now: dt.datetime) -> Text:
    """How many wait in the ledger and when the next one leaves."""
    waiting = Notice.objects.filter(state=Notice.State.WAITING).order_by("due_at")
    first = waiting.first()
    if first is None:
        return Text("Nothing is waiting to be sent.")
    when = clock.to_wall(first.due_at, first.recipient.zone)
    who = f"the next is for {first.recipient.call_sign} on {when:%a} {when.day} {when:%b %H:%M}"
    return Text(f"{waiting.count()} are waiting; {who}. The demo writes mail to var/mail and sends none.")


def _ways_in(address: str) -> Table:
    table = _table("What", "Where")
    table.add_row("Calendar of every net", feeds.club_address())
    table.add_row("Office", f"{address}/office/")
    for login in demo.logins():
        table.add_row(f"Log in as {login.role.lower()}", f"{login.username}  {login.password}")
    return table
