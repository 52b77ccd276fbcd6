"""Wrong relays and sites in the office."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from relays.models import Relay, Site
from tests.bad_input.conftest import Refuses

pytestmark = pytest.mark.django_db


def as_typed(site: Site, **changes: str) -> dict[str, Any]:
    return {
        "name": "New 2 m", "slug": "new-2m", "site": site.pk, "call_sign": "QZ2NEW", "mode": "fm", "status": "on_air",
        "output_mhz": "147.060", "input_mhz": "147.660", "band_profile": "us", "access_tone_hz": "103.5",
        "access_code": "", "output_tone_hz": "", "power_w": "25", "sensitivity_uv": "0.25", "antenna_height_m": "18",
        "antenna_gain_dbi": "5.15", "polarization": "vertical", "feedline_kind": "hardline_1_2",
        "feedline_length_m": "20", "connectors": "4", "antenna_swr": "1.3", "duplexer_loss_db": "1.5",
        "noise_class": "rural", "identification_interval_min": "10", "time_out_s": "180",
    } | changes  # fmt: skip


WRONG: dict[str, tuple[dict[str, str], str]] = {
    "outside the band": (
        {"output_mhz": "150.000", "input_mhz": "150.600"},
        "150.000 MHz is in no band in the US; it should be in 2 m (144.000 to 148.000 MHz)",
    ),
    "where no repeater may work": (
        {"output_mhz": "144.100", "input_mhz": "144.700"},
        "144.100 MHz is where no repeater may work in the US",
    ),
    "it would hear itself": (
        {"input_mhz": "147.060"},
        "The relay would listen on 147.060 MHz, where it sends; its input must be elsewhere.",
    ),
    "kilohertz": ({"output_mhz": "147060"}, "Give megahertz, not kilohertz, such as 146.730."),
    "a tone between two": (
        {"access_tone_hz": "100.1"},
        "100.1 Hz is not one of the standard tones; the nearest to it: 100.0 Hz and 103.5 Hz.",
    ),
    "a code with a nine": (
        {"access_tone_hz": "", "access_code": "019"},
        "“019” is not an access code; one has three digits, 0 to 7, such as 023.",
    ),
    "a tone and a code": (
        {"access_code": "023"},
        "This relay already opens on the tone 103.5 Hz; give a tone or a code, not both.",
    ),
    "no call sign": ({"call_sign": "RIDGE"}, "“RIDGE” has no digit. A call sign has one or two characters"),
    "an antenna in the grass": ({"antenna_height_m": "0.2"}, "0.2 is too little; give at least 1."),
    "no power": ({"power_w": "0"}, "0 W sends nothing; give what the transmitter puts out, in watts."),
    "SWR below one": ({"antenna_swr": "0.5"}, "0.5 is too little; give at least 1."),
    "a height in words": ({"antenna_height_m": "tall"}, "“tall” is not a number; write it with a point"),
    "a name twice": ({"name": "Ridge 2 m"}, "Relay with this Name already exists."),
}


@pytest.mark.parametrize(("changes", "sentence"), WRONG.values(), ids=WRONG)
def test_a_wrong_relay_is_told_what_would_be_right(
    changes: dict[str, str], sentence: str, site: Site, relay: Relay, refuses: Refuses
) -> None:
    refuses("steward", reverse("admin:relays_relay_add"), as_typed(site, **changes), sentence)


@pytest.mark.parametrize(
    ("latitude", "longitude", "sentence"),
    [
        ("95", "-84.2", "95.0 is too much; give at most 90."),
        ("36.5", "-200", "-200.0 is too little; give at least -180."),
        ("north", "-84.2", "“north” is not a number"),
    ],
)
def test_a_site_off_the_globe(latitude: str, longitude: str, sentence: str, refuses: Refuses) -> None:
    given = {
        "name": "Nowhere", "slug": "nowhere", "latitude_deg": latitude, "longitude_deg": longitude,
        "relays-TOTAL_FORMS": "0", "relays-INITIAL_FORMS": "0",
    }  # fmt: skip
    refuses("officer", reverse("admin:relays_site_add"), given, sentence)
