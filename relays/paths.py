"""Paths between stations and relays: computed, stored with their inputs, and never shown when stale.

A stored verdict carries the digest of everything it was computed from. Freshness is decided when it is
read, by computing today's digest (no terrain is opened for that), so a verdict whose station moved a
second ago is already stale even if every message about the move was lost.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings

from clubops.members.models import Station
from relays import terminals, terrain_store
from relays.models import PathVerdict, Relay
from relays.propagation import p1812, verdicts
from relays.propagation.doubts import doubts
from relays.propagation.errors import PropagationError
from relays.propagation.link import TwoWayLink, two_way
from relays.propagation.profile import PathProfile
from relays.propagation.verdicts import DEFAULT_GRADE, GRADES, Verdict

# Raised by hand whenever the calculation itself changes, so that every stored verdict turns stale.
CALCULATION_EDITION = "P.1812-8 (09/2025), link 3"
STATION_FIELDS = (
    "latitude_deg", "longitude_deg", "antenna_height_m", "antenna_gain_dbi", "body_loss_db", "feedline_kind",
    "feedline_length_m", "connectors", "antenna_swr", "power_w", "sensitivity_uv", "noise_class", "building",
    "preset", "surroundings",
)  # fmt: skip
RELAY_FIELDS = (
    "input_mhz", "output_mhz", "mode", "power_w", "antenna_height_m", "antenna_gain_dbi", "polarization",
    "feedline_kind", "feedline_length_m", "connectors", "antenna_swr", "duplexer_loss_db", "sensitivity_uv",
    "noise_class",
)  # fmt: skip
HORIZONTAL_CAUTION = (
    "This relay is horizontally polarized and the sum takes your antenna to be so too. An upright one loses up to "
    "some 20 dB more where nothing stands between (common practice, no source)."
)
# Margins are compared in hundredths of a dB; a coordinate to a tenth of a metre.
DECIMALS = 6


@dataclass(frozen=True)
class ComputedPath:
    """Everything about one path: the ground, the loss at both frequencies, the link both ways, and the air."""

    profile: PathProfile
    talk_in: p1812.Prediction
    talk_out: p1812.Prediction
    link: TwoWayLink
    delta_n: float
    n0: float


@dataclass(frozen=True)
class Standing:
    """How a path stands against somebody's limits, and the sentence that says so.

    `verdict` is None when there is no answer: no station, no terrain there, outside the method's range.
    """

    sentence: str
    verdict: Verdict | None = None

    @property
    def key(self) -> str:
        """The verdict's key, or not_computed: what the verdict mark of a page is drawn from."""
        return self.verdict.verdict_class.key if self.verdict else "not_computed"

    @property
    def is_usable(self) -> bool:
        return self.verdict is not None and self.verdict.usable


def inputs_of(station: Station, relay: Relay, ground_version: str) -> dict[str, Any]:
    """Everything the answer depends on, as plain JSON values in a fixed order."""
    site = relay.site
    return {
        "edition": CALCULATION_EDITION,
        "terrain": ground_version,
        "settings": {
            "model_error_db": settings.PATH_MODEL_ERROR_DB,
            "delta_n": settings.PATH_DELTA_N,
            "n0": settings.PATH_N0,
            "spacing_m": settings.PATH_SPACING_M,
            "clutter_m": settings.PATH_CLUTTER_M,
            "location_square_m": settings.PATH_LOCATION_SQUARE_M,
        },
        "station": {name: _plain(getattr(station, name)) for name in STATION_FIELDS},
        "relay": {name: _plain(getattr(relay, name)) for name in RELAY_FIELDS}
        | {"latitude_deg": _plain(site.latitude_deg), "longitude_deg": _plain(site.longitude_deg)},
    }


def _plain(value: Any) -> Any:
    return value if isinstance(value, str | None) else round(float(value), DECIMALS)


def digest(inputs: dict[str, Any]) -> str:
    """SHA-256 over the inputs in canonical JSON."""
    return hashlib.sha256(json.dumps(inputs, sort_keys=True).encode()).hexdigest()


def compute(station: Station, relay: Relay) -> ComputedPath:
    """The whole path, both directions. `station` and `relay` may be unsaved rows.

    Raises a PropagationError when the method has no answer (outside its range, off the terrain).
    """
    site = relay.site
    profile = terrain_store.current_ground().profile_between(
        station.latitude_deg,
        station.longitude_deg,
        site.latitude_deg,
        site.longitude_deg,
        spacing_m=settings.PATH_SPACING_M,
        relay_end="last",
    )
    talk_in = _predict(station, relay, profile, float(relay.input_mhz))
    talk_out = _predict(station, relay, profile, float(relay.output_mhz))
    relay_end = terminals.of_relay(relay)
    link = two_way(
        terminals.of_station(
            station,
            bandwidth_khz=relay_end.bandwidth_khz,
            criterion=relay_end.sensitivity_criterion,
            clutter_known=terminals.clutter_is_known(),
        ),
        relay_end,
        frequency_in_mhz=float(relay.input_mhz),
        frequency_out_mhz=float(relay.output_mhz),
        loss_in_db=talk_in.loss_db,
        loss_out_db=talk_out.loss_db,
        location_sigma_db=p1812.sigma_location_db(
            float(relay.input_mhz) / 1000,
            settings.PATH_LOCATION_SQUARE_M,
            station.antenna_height_m,
            float(profile.clutter_m[0]),
        ),
        model_error_db=settings.PATH_MODEL_ERROR_DB,
        required_db=GRADES[DEFAULT_GRADE].above_sensitivity_db,
        elevation_deg=math.degrees(talk_in.tx_horizon_angle_mrad / 1000),
        path_caveats=_caveats(relay, talk_in),
    )
    return ComputedPath(profile, talk_in, talk_out, link, settings.PATH_DELTA_N, settings.PATH_N0)


def _predict(station: Station, relay: Relay, profile: PathProfile, frequency_mhz: float) -> p1812.Prediction:
    """The median loss from the station's antenna to the relay's; in the median it is the same both ways."""
    return p1812.predict(
        frequency_ghz=frequency_mhz / 1000,
        time_percent=50.0,
        tx_height_m=station.antenna_height_m,
        rx_height_m=relay.antenna_height_m,
        polarization="horizontal" if relay.polarization == Relay.Polarization.HORIZONTAL else "vertical",
        **profile.arguments(),
        delta_n=settings.PATH_DELTA_N,
        n0=settings.PATH_N0,
    )


def _caveats(relay: Relay, talk_in: p1812.Prediction) -> tuple[str, ...]:
    """What a person must know beside the figures, in sentences."""
    found = list(doubts(talk_in))
    if relay.polarization == Relay.Polarization.HORIZONTAL:
        found.append(HORIZONTAL_CAUTION)
    return tuple(filter(None, found))


def refresh(station: Station, relay: Relay, *, now: dt.datetime) -> PathVerdict:
    """Compute the path and store what came out, replacing the earlier verdict."""
    inputs = inputs_of(station, relay, terrain_store.terrain_version())
    found: dict[str, Any] = {"inputs": inputs, "inputs_digest": digest(inputs), "computed_at": now}
    try:
        path = compute(station, relay)
    except PropagationError as problem:
        found |= {"state": PathVerdict.State.NO_ANSWER, "reason": str(problem)[:300]}
        found |= dict.fromkeys(_NUMBERS)
    else:
        found |= {"state": PathVerdict.State.COMPUTED, "reason": ""} | _numbers(path)
    verdict, _made = PathVerdict.objects.update_or_create(station=station, relay=relay, defaults=found)
    return verdict


_NUMBERS = (
    "distance_km", "loss_db", "talk_in_margin_db", "talk_in_probability", "talk_out_margin_db",
    "talk_out_probability",
)  # fmt: skip


def _numbers(path: ComputedPath) -> dict[str, float]:
    link = path.link
    return {
        "distance_km": float(path.profile.distance_km[-1]),
        "loss_db": path.talk_in.loss_db,
        "talk_in_margin_db": link.talk_in.margin_db,
        "talk_in_probability": link.talk_in.probability,
        "talk_out_margin_db": link.talk_out.margin_db,
        "talk_out_probability": link.talk_out.probability,
    }


def fresh_verdict(station: Station, relay: Relay) -> PathVerdict | None:
    """The stored verdict if it was computed from today's inputs, else None. Computes nothing."""
    stored = PathVerdict.objects.filter(station=station, relay=relay).first()
    if stored is None:
        return None
    today = digest(inputs_of(station, relay, terrain_store.terrain_version()))
    return stored if stored.inputs_digest == today else None


def verdict_now(station: Station, relay: Relay, *, now: dt.datetime) -> PathVerdict:
    """The fresh verdict, computed here if the stored one is stale or missing (some milliseconds)."""
    return fresh_verdict(station, relay) or refresh(station, relay, now=now)


def standing(
    station: Station | None,
    relay: Relay,
    *,
    minimum_margin_db: float,
    minimum_probability: float,
    now: dt.datetime,
) -> Standing:
    """How the worse direction of the path stands against the limits given."""
    if station is None:
        return Standing(
            "no station is on record to check a path from. Add one, with its position and antenna."
        )
    return standing_of(
        verdict_now(station, relay, now=now),
        relay,
        minimum_margin_db=minimum_margin_db,
        minimum_probability=minimum_probability,
    )


def standing_of(
    stored: PathVerdict,
    relay: Relay,
    *,
    minimum_margin_db: float = verdicts.ORDINARY_MARGIN_DB,
    minimum_probability: float = verdicts.ORDINARY_PROBABILITY,
) -> Standing:
    """The same from a verdict already known to be fresh; the limits of no net in particular unless they are given."""
    margin_db, probability = stored.margin_db, stored.probability
    if margin_db is None or probability is None:
        return Standing(f"there is no answer for the path to {relay.name}. {stored.reason}")
    judged = verdicts.verdict(
        margin_db, probability, minimum_margin_db=minimum_margin_db, minimum_probability=minimum_probability
    )
    direction = "into the relay" if _talk_in_decides(stored, minimum_margin_db) else "from the relay"
    return Standing(f"the path {direction} {relay.name} decides. {judged.sentence}", judged)


def _talk_in_decides(stored: PathVerdict, minimum_margin_db: float) -> bool:
    """Whether the margin that is short is that of talk-in; where none is, whether its chance is the lower.

    The spreads of the two ways differ, so the way with the lower margin may have the better chance.
    """
    if stored.margin_db is not None and stored.margin_db < minimum_margin_db:
        return stored.talk_in_margin_db == stored.margin_db
    return stored.talk_in_probability == stored.probability


def stale_pairs(stations: Iterable[Station] | None = None) -> Iterator[tuple[Station, Relay]]:
    """Every (station, relay) whose stored verdict is missing or no longer from today's inputs."""
    ground_version = terrain_store.terrain_version()
    rows = PathVerdict.objects.values_list("station_id", "relay_id", "inputs_digest")
    stored = {(station_id, relay_id): held for station_id, relay_id, held in rows}
    relays = list(Relay.objects.select_related("site"))
    if stations is None:
        stations = Station.objects.filter(member__is_active=True)
    for station in stations:
        for relay in relays:
            if stored.get((station.pk, relay.pk)) != digest(inputs_of(station, relay, ground_version)):
                yield station, relay


def refresh_stale(*, now: dt.datetime, limit: int = 1000) -> int:
    """Compute up to `limit` stale pairs; how many were done."""
    done = 0
    for station, relay in stale_pairs():
        if done == limit:
            break
        refresh(station, relay, now=now)
        done += 1
    return done


def refresh_relays(chosen: Iterable[Relay], *, now: dt.datetime) -> int:
    """Compute every active member's path to the chosen relays again; how many were done."""
    stations = list(Station.objects.filter(member__is_active=True))
    pairs = [(station, relay) for relay in chosen for station in stations]
    for station, relay in pairs:
        refresh(station, relay, now=now)
    return len(pairs)
