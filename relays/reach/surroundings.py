"""What a map over bare ground leaves out, in a sentence."""

from __future__ import annotations

from django.conf import settings

from relays import terrain_store
from relays.coverage.inputs import middle_frequency_mhz
from relays.models import Relay
from relays.propagation.surroundings import bare_ground_caution


def sentence(relay: Relay, antenna_height_m: float) -> str:
    """How much less to expect among houses and trees; nothing where the club knows its clutter."""
    if settings.PATH_CLUTTER_M > 0 or terrain_store.current_ground().cover is not None:
        return ""
    told = bare_ground_caution(middle_frequency_mhz(relay), antenna_height_m)
    return told.replace("on this path", "here")
