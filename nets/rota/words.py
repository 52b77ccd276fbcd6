"""What a draft's page says about how it was asked for and how good it is."""

from __future__ import annotations

from typing import Any

from django.conf import settings

from clubops.templatetags.measures import wall_time
from nets.models import RotaDraft
from nets.rota.draft import HORIZONS

#: The solver's aims as a net manager would say them.
AIMS = {
    "paths": "looking at paths",
    "empty chairs": "filling chairs",
    "empty chairs of net control": "filling the chairs of net control",
    "fairness": "sharing the turns fairly",
    "changes": "keeping to what was published",
}
BEST = (
    "Proven the best there is: no rota leaves fewer chairs empty, and among those none shares the turns more "
    "fairly, then changes fewer of the published ones, then has better paths."
)


def asked(draft: RotaDraft) -> str:
    """Such as “12 weeks ahead, at least 7 days between turns; confirmed turns stay.”"""
    ahead = HORIZONS.get(draft.weeks, f"{draft.weeks} weeks")
    parts = [
        f"{ahead[:1].upper()}{ahead[1:]} ahead",
        f"at least {days(draft.minimum_gap_days)} between turns",
    ]
    if draft.most_turns is not None:
        parts.append(f"at most {draft.most_turns} in a quarter")
    stays = "nobody who has a turn moves" if draft.only_empty_chairs else "confirmed and locked turns stay"
    return f"{', '.join(parts)}; {stays}."


def days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def at_work(draft: RotaDraft) -> str:
    """What is being done to a draft that is not ready yet."""
    if draft.state == RotaDraft.State.WAITING:
        return "Waiting for a worker to take it up. This page looks again by itself."
    doing = AIMS.get(draft.progress, "setting up")
    return f"Being worked out: {doing}. This page looks again by itself."


def settled(draft: RotaDraft) -> str:
    """What became of a draft; nothing while it is open."""
    if draft.is_open or draft.settled_at is None:
        return ""
    by = f" by {draft.settled_by.call_sign}" if draft.settled_by else ""
    return (
        f"This draft was {draft.get_state_display()}{by}, {wall_time(draft.settled_at, settings.CLUB_ZONE)}."
    )


def proof(draft: RotaDraft) -> str:
    """Whether anything better exists, and how long the search took."""
    took = f"Worked out in {draft.seconds:.1f} s."
    if not draft.stages:
        return ""
    if draft.is_proven:
        return f"{took} {BEST}"
    still_open = "; ".join(
        _still_open(stage) for stage in draft.stages if stage["objective"] > stage["bound"]
    )
    return f"{took} The time ran out: this is the best rota found, not proven the best there is. Open: {still_open}."


def _still_open(stage: dict[str, Any]) -> str:
    gap = stage["objective"] - stage["bound"]
    if stage["aim"] == "fairness":
        return f"fairness, which might improve by at most {100 * gap / stage['objective']:.1f} %"
    if stage["aim"] == "paths":
        return f"paths, which might be better by at most {gap} steps of 3 dB in all"
    if stage["aim"] == "changes":
        return f"changes, of which at most {gap} might be spared"
    return f"{stage['aim']}, of which at most {gap} might be filled"
