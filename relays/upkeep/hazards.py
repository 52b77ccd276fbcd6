"""What can hurt somebody at a site, and the caution that goes with it.

Each caution stands with its source in docs/safety.md. They remind; local codes, the law and licensed practice decide.
T0 numbers are of the US Technician question pool 2022-2026 (public domain).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext_noop

TOWER = "tower"
RF_FIELD = "rf"
MAINS = "mains"
BATTERY = "battery"
GENERATOR = "generator"
LIGHTNING = "lightning"
REMOTE_SITE = "remote"


@dataclass(frozen=True, slots=True)
class Hazard:
    """A kind of danger: its key in the database, its name, and what careful people do about it."""

    key: str
    label: str
    caution: str


HAZARDS = (
    Hazard(
        TOWER,
        gettext_noop("tower or mast climbing"),
        gettext_noop(
            "Never climb alone, at any height; only trained, in an approved harness, tied off at all times. Not with "
            "thunder, wind or ice. A tower that is past its inspection is not climbed."
        ),
    ),
    Hazard(
        RF_FIELD,
        gettext_noop("RF field near antennas"),
        gettext_noop(
            "Switch the transmitters off or lock them out before going near antennas; others on the site may start at "
            "any moment. After a change of antenna or power the exposure is worked out again."
        ),
    ),
    Hazard(
        MAINS,
        gettext_noop("mains"),
        gettext_noop(
            "Mains work only by somebody licensed for it where the law asks for that. Switch off, make sure that it is "
            "off; a supply holds its charge after it is unplugged."
        ),
    ),
    Hazard(
        BATTERY,
        gettext_noop("batteries"),
        gettext_noop(
            "A short burns and can make a battery burst; charging gives off gas that explodes. Cover the terminals, "
            "take off rings, use insulated tools, let air in, no sparks; wear eye protection."
        ),
    ),
    Hazard(
        GENERATOR,
        gettext_noop("generator and fuel"),
        gettext_noop(
            "Run it outdoors only, dry, at least 6 m (20 ft) from every opening, exhaust pointing away: carbon "
            "monoxide kills without a smell. Let it cool before you fill it. Never feed the building's wiring without "
            "a proper changeover switch."
        ),
    ),
    Hazard(
        LIGHTNING,
        gettext_noop("lightning and earths"),
        gettext_noop(
            "Stay away from mast, feedlines and earths when thunder is near. An earth lead is not opened while a "
            "storm may come."
        ),
    ),
    Hazard(
        REMOTE_SITE,
        gettext_noop("remote site and the drive there"),
        gettext_noop(
            "Go in twos, tell somebody the way and when you will be back, and call when you are down. Look at weather "
            "and road first; turn round when in doubt."
        ),
    ),
)
CHOICES = [(each.key, each.label) for each in HAZARDS]
_BY_KEY = {each.key: each for each in HAZARDS}


def named(keys: Iterable[str]) -> list[Hazard]:
    """The hazards of these keys, in the order of the list above. Unknown keys are passed over."""
    wanted = set(keys)
    return [each for each in HAZARDS if each.key in wanted]


def unknown(keys: Iterable[str]) -> list[str]:
    """Keys that name no hazard."""
    return sorted({key for key in keys if key not in _BY_KEY})
