"""Coverage on the spot: the stored raster where it answers the question, else a sweep in this process.

A sweep here is bounded: what would be more work is answered on a coarser lattice or with coarser samples, and
no more than two are worked at a time. Nothing is stored; the last answers are kept in memory.
"""

from __future__ import annotations

import logging
import math
import threading
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from django.core.files.storage import default_storage

from clubops.members.models import Station
from relays import paths, terrain_store
from relays.coverage import packed, rasters, runs, skyline, sweeps, walls
from relays.coverage.inputs import inputs_of
from relays.coverage.kept import Kept
from relays.coverage.rasters import LossRaster
from relays.coverage.sweeps import Prepared
from relays.models import CoverageRun, Relay
from relays.propagation import raster as kernels
from relays.propagation.errors import PropagationError
from relays.propagation.raster_request import KM_PER_DEGREE, CoverageRequest, resolution

log = logging.getLogger(__name__)

Detail = Literal["draft", "fine"]


@dataclass(frozen=True, slots=True)
class Bounds:
    """Limits of one sweep on the spot.

    most_posts: answered. samples_across: along the radius at most. posts_a_sample: spacing of samples in posts;
    None for the calculation's own division. step_db: of what is sent.
    """

    most_posts: int
    samples_across: int
    posts_a_sample: float | None
    step_db: float


#: While a slider is dragged: posts themselves as spacing, 95 % of places within 2 dB of the fine answer.
#: When it rests: the calculation's own division, 95 % within 1 dB of the path computed for the place alone.
BOUNDS: dict[Detail, Bounds] = {
    "draft": Bounds(most_posts=250_000, samples_across=440, posts_a_sample=1.0, step_db=0.25),
    "fine": Bounds(most_posts=1_000_000, samples_across=1200, posts_a_sample=None, step_db=0.1),
}
_SLOTS = 2
_PATIENCE_S = 10.0
# A browser gets no more posts than this, about a megabyte.
_MOST_SENT = 1_500_000


class Busy(PropagationError):
    """More is asked of this process than it works on at a time."""

    def __init__(self) -> None:
        super().__init__(
            "coverage",
            None,
            "fewer at a time",
            "Many maps are being worked out just now. Try again in a few seconds.",
        )

    def __reduce__(self) -> tuple[type[Busy], tuple[()]]:
        return type(self), ()


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked: one relay with its antenna at a height, heard at another height, in some detail.

    run: the stored run that answers it, None for a sweep. building: a key of Station.Building that is not
    outdoors, or None: then the loss holds what its walls take more because the ray comes in at an angle. key:
    the same for the same answer, for ETags.
    """

    relay: Relay
    inputs: dict[str, Any]
    detail: Detail
    run: CoverageRun | None
    building: str | None = None

    @property
    def key(self) -> str:
        stored = self.run.raster.name if self.run else "swept"
        facts = {"inputs": self.inputs, "detail": self.detail, "from": stored, "building": self.building}
        return paths.digest(facts)

    @property
    def receiver_height_m(self) -> float:
        return float(self.inputs["receiver_heights_m"][0])


def question(
    relay: Relay,
    *,
    antenna_height_m: float | None = None,
    receiver_height_m: float,
    building: str | None = None,
    detail: Detail = "fine",
) -> Question:
    """The question, with the stored run if one answers it. Two small queries; no terrain is opened."""
    version = terrain_store.terrain_version()
    inputs = inputs_of(
        relay, version, antenna_height_m=antenna_height_m, receiver_heights_m=(receiver_height_m,)
    )
    run = None
    if inputs["antenna_height_m"] == inputs_of(relay, version)["antenna_height_m"]:
        run = runs.fresh(relay)
        if run is not None and inputs["receiver_heights_m"][0] not in run.receiver_heights_m:
            run = None
    indoors = None if building == Station.Building.OUTDOORS else building
    return Question(relay, inputs, "fine" if run else detail, run, indoors)


def loss(asked: Question) -> LossRaster:
    """The raster. Raises PropagationError: no ground under the relay, a height out of range, Busy."""
    return _rasters.get(asked.key, lambda: walls.entered(_answer(asked), asked.building))


def loss_bytes(asked: Question) -> bytes:
    """The same packed for a browser (gzipped). Raises the same."""
    return _packed.get(asked.key, lambda: _pack(asked))


def _pack(asked: Question) -> bytes:
    return packed.packed(
        packed.thinned(loss(asked), _MOST_SENT),
        (asked.inputs["latitude_deg"], asked.inputs["longitude_deg"]),
        step_db=BOUNDS[asked.detail].step_db,
        detail=asked.detail,
        stored=bool(asked.run),
    )


def _answer(asked: Question) -> LossRaster:
    if asked.run is None:
        return _swept(asked)
    try:
        return _stored(asked.run, asked)
    except rasters.RasterLost:
        log.warning("The stored coverage of %s cannot be read; swept instead.", asked.relay.slug)
        return _swept(asked)


def _stored(run: CoverageRun, asked: Question) -> LossRaster:
    path = Path(default_storage.path(str(run.raster.name)))
    return rasters.read(path, asked.receiver_height_m, wants_elevation=asked.building is not None)


def _swept(asked: Question) -> LossRaster:
    if not _slots.acquire(timeout=_PATIENCE_S):
        raise Busy
    try:
        bounds = BOUNDS[asked.detail]
        indoors = asked.building is not None
        prepared = sweeps.prepare(asked.inputs, most_posts=bounds.most_posts, wants_horizons=indoors)
        within = replace(prepared, request=_bounded(prepared, bounds))
        coverage = sweeps.sweep(within)
        angles = skyline.elevation_deg(within, coverage, 0) if indoors else None
        return rasters.from_coverage(asked.inputs, coverage, elevation_deg=angles)
    finally:
        _slots.release()


def _bounded(prepared: Prepared, bounds: Bounds) -> CoverageRequest:
    """The request divided so that it keeps to the bounds."""
    request = prepared.request
    post_km = prepared.grid.lattice.latitude_step_deg * KM_PER_DEGREE
    least_km = request.radius_km / bounds.samples_across
    if bounds.posts_a_sample is None:
        own = resolution(prepared.grid.lattice, request)
        if own.samples <= bounds.samples_across:
            return request
    spacing_km = max((bounds.posts_a_sample or 0.0) * post_km, least_km)
    # At the rim as far apart as along the radials.
    radials = math.ceil(2.0 * math.pi * request.radius_km / spacing_km)
    return replace(request, spacing_km=spacing_km, radial_count=radials)


def _warm_up() -> None:
    """Failing costs nothing but time: the first sweep then loads the kernels itself, and shows the error."""
    try:
        kernels.warm_up()
    except Exception:
        log.exception("The coverage kernels could not be loaded ahead of time.")


def warm_up_aside() -> None:
    """Load the compiled kernels in a thread of this process, once, so that the first drag does not wait."""
    with _warm_lock:
        if _warm:
            return
        _warm.append(threading.Thread(target=_warm_up, name="coverage-warm-up", daemon=True))
        _warm[0].start()


_rasters: Kept[LossRaster] = Kept(64_000_000, lambda kept: kept.loss_db.nbytes)
_packed: Kept[bytes] = Kept(32_000_000, len)
_slots = threading.BoundedSemaphore(_SLOTS)
_warm: list[threading.Thread] = []
_warm_lock = threading.Lock()
