"""Recommendation ITU-R P.1812-8 along a radial: the loss to every receiver on it, in one pass.

A radial is a line of equally spaced samples i = 0..n from a transmitter at i = 0. A receiver stands at x, in
samples, not necessarily on one. Its path is a profile of its own: the samples up to k - 2, where k is x
rounded up, one more point a whole step before the receiver, and the receiver. For a receiver on a
sample that is just the samples 0..k. Computing each path alone costs O(n); here everything the Recommendation
asks of a profile is kept up to date while k advances: running maxima, running sums, convex hulls for the
tangents that depend on the receiver, and exact bounds that tell when a term cannot matter. The
loss is the one `p1812.predict` gives for the same path.

Source of the formulas: Recommendation ITU-R P.1812-8 (09/2025); numbers in square brackets are its
equations. Source of the structures: upper convex hulls by the monotone chain, the textbook algorithm; the
rest is argued where it stands.

Coordinates. Distances along the radial are counted in samples. With q = 500 Delta^2 / a_p (Delta the
spacing in km, a_p the effective Earth radius in km) the Earth's bulge between 0 and x is q i (x - i), and the
curved height y_i = h_i - q i^2 no longer knows x: that is what lets maxima and hulls grow with k.
Slopes are metres per sample.

All kernels are plain functions on arrays, numbers and named tuples of both. They live in this one file because
the compiler's cache on disk does not notice a change in another file. No fast-math flag is set:
results depend neither on the compiler's mood nor on the number of threads.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeVar

import numba
import numpy as np
import numpy.typing as npt

from relays.propagation import errors
from relays.propagation.p1812 import inputs
from relays.propagation.p1812.inputs import COASTAL_LAND, INLAND, SEA, Polarization
from relays.propagation.p1812.variability import inverse_normal

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
ByteArray = npt.NDArray[np.uint8]

_Kernel = TypeVar("_Kernel", bound=Callable[..., Any])

SPACING_KM = (0.001, 10.0)  #: our own limits of the sample spacing; they catch metres given for km
FEWEST_SAMPLES = 3

_ENTRY: dict[str, Any] = {"nogil": True, "cache": True}
# Pieces of an entry allocate nothing and keep no array, so they need no counting of references, which
# would take longer than the arithmetic and make threads wait for each other.
_PIECE: dict[str, Any] = {"nogil": True, "_nrt": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}


def _entry(function: _Kernel) -> _Kernel:
    """Compile on first use, keep on disk, let other threads run meanwhile.

    Entries take arrays and numbers only: the disk cache stores the types of the arguments, and a
    stored named tuple could not be read back once its class has changed.
    """
    compiled: _Kernel = numba.njit(**_ENTRY)(function)
    return compiled


def _part(function: _Kernel) -> _Kernel:
    """A piece that runs rarely, or once a radial."""
    compiled: _Kernel = numba.njit(**_PIECE)(function)
    return compiled


def _inlined(function: _Kernel) -> _Kernel:
    """A piece of the innermost loop, woven into its caller: passing the arguments would cost more
    than most of them do."""
    compiled: _Kernel = numba.njit(forceinline=True, **_PIECE)(function)
    return compiled


# ----------------------------------------------------------------------------------------------
# 1. What stays the same for a whole run
# ----------------------------------------------------------------------------------------------

_EARTH_RADIUS_KM = 6371.0
_INFINITE_COAST_KM = 500.0  # "far from any coast", [49]
_LN10 = math.log(10.0)
_PER_LN10 = 1.0 / _LN10
_LOG_50 = math.log10(50.0)

_BLOCK = 32  # samples a block of the static maxima holds
_SCAN_IN_BLOCKS_FROM = 192  # below this many samples a plain scan is faster
_NO_LOSS_NU = -0.78  # [12]: an edge below this costs nothing

_GROUND_LAND = (22.0, 0.003)  # relative permittivity, conductivity S/m; section 4.3 of the text, [28]
_GROUND_SEA = (80.0, 5.0)


class Earth(NamedTuple):
    """One effective Earth radius and what depends on nothing else."""

    radius_km: float
    bulge_m: float  # q: the bulge over sample i of k is q i (x - i)
    reach_factor: float  # d_los is this times the sum of the roots of both heights, [22]
    per_root_bulge: float  # 1 / sqrt(q)
    x_factor: float  # 21.88 (f / a^2)^(1/3), [31]
    y_factor: float  # 0.9575 (f^2 / a)^(1/3), [32]
    land_admittance: float  # K, [29]
    sea_admittance: float


class Run(NamedTuple):
    """Everything about a run that is one number."""

    spacing_km: float
    frequency_ghz: float
    wavelength_m: float
    time_percent: float
    tx_height_m: float
    sin_latitude: float
    cos_latitude: float
    is_median: bool  # time_percent is 50: only the median radius is needed
    nu_factor: float  # sqrt(0.002 / (lambda Delta))
    free_space_db: float  # 92.4 + 20 log f, [8]
    log_time: float  # log(p / 50), [9a]
    time_deviate: float  # I(p / 100), [40a]
    scatter_db: float  # the part of [44] that does not depend on the path
    coupling_db: float  # the part of [47] that does not depend on the path
    cube_root_f: float
    per_mrad_db: float  # gamma_d, [51]
    median: Earth
    anomalous: Earth


# Rows of the workspace of one radial, each as long as the radial. One array with rows, here and below: a slice
# of an array inside a kernel costs more than its use.
_GROUND = 0  # bare heights
_CURVED = 1  # with clutter, curved by the median Earth radius
_ANOMALOUS = 2  # with clutter, curved by the anomalous radius
_BARE = 3  # bare, curved by the median radius; the same as _CURVED, and unused, without clutter
_BLOCKS = 4  # then three rows: block maxima of the first three profiles
_HULLS = 7  # then three rows (vertex, slope, intercept) for the upper hull of each profile
_ROWS = 19

# The running state of one radial: what grows with k ...
_STEEPEST = 0  # then three more: greatest slope from the transmitter over each profile, same order
_SUM_1 = 4  # the sums of [85] and [86], heights above the first sample
_SUM_2 = 5
_LAST_HEIGHT = 6  # of the last sample inside, above the first
_ZONES = 7  # then seven: the zone statistics so far, see below
_TRIAL = 14  # then seven: the same carried on to one receiver
# ... and what it says of the path to one receiver. Read back from memory on purpose: were these plain
# variables, the compiler would take the powers and logarithms made of them out of the branches
# that guard them, since they are the same for every receiver height.
_DISTANCE_KM = 21
_SEA_FRACTION = 22  # omega
_LAND_KM = 23  # d_tm
_INLAND_KM = 24  # d_lm
_TX_COAST_KM = 25  # d_ct
_RX_COAST_KM = 26  # d_cr
_LOG_BETA0 = 27
_TIME_FACTOR = 28  # F_i, [40a]; 1 when p is below beta0; 0 at 50 % over land, see `_describe`
_STATE = 29

# Zone statistics, in samples from the transmitter; a start is -1 while no run of that zone is open.
_LAND_START = 0
_LAND_LONGEST = 1
_INLAND_START = 2
_INLAND_LONGEST = 3
_SEA_START = 4
_SEA_TOTAL = 5
_FIRST_COAST = 6  # where the first sea begins; -1 for none so far
_ZONE_FIGURES = 7

# The counts of one radial: sizes of the four hulls, then the sample that is the transmitter's horizon.
_HORIZON = 4
_COUNTS = 5

# Rows of the tables: what depends on the number of samples alone, looked up instead of computed.
_WEIGHT = 0  # 1 / sqrt(i)
_WEIGHT_REVERSED = 1  # the same read backwards, so that i and k - i both ascend
_DISTANCE_DB = 2  # 20 log(k Delta)
_INLAND_BOUND_DB = 3  # least A_p of [53] for any duct over a path all inland
_ANY_BOUND_DB = 4  # the same over any mixture of zones


class Line(NamedTuple):
    """One radial being swept."""

    run: Run
    tables: FloatArray
    work: FloatArray
    state: FloatArray
    counts: IntArray
    bare: int  # the row that holds the bare curved profile
    zoned: bool  # whether anything on the radial is not inland
    cos_azimuth: float


class Spot(NamedTuple):
    """Where one receiver stands, and the point a step before it."""

    at: float  # x
    near: float  # x - 1
    last: int  # the last sample that belongs to the path, k - 2
    ground_m: float
    near_ground_m: float
    near_cover_m: float  # clutter on top of it


class Path(NamedTuple):
    """The path to one receiver height at a spot. Horizons are positions in samples, -1 while both ends see each
    other: then only the ducting model asks for them."""

    distance_km: float
    distance_db: float  # 20 log of it
    tx_top_m: float  # antennas above sea level
    rx_top_m: float
    tx_horizon: float  # l_t and l_r
    rx_horizon: float
    tx_angle_mrad: float
    rx_angle_mrad: float
    tx_fitted_m: float  # least-squares surface at both ends, [87] and [88]
    rx_fitted_m: float
    free_space_db: float
    sight_db: float  # L_b0p, [10]
    depth_db: float  # what [9] multiplies with the logarithm of the time percentage


def make_run(
    *,
    frequency_ghz: float,
    time_percent: float,
    spacing_km: float,
    tx_height_m: float,
    polarization: Polarization,
    latitude_deg: float,
    delta_n: float,
    n0: float,
) -> Run:
    """The constants of a run, checked; arguments and errors as in `sweep_profile`."""
    f = inputs.frequency(frequency_ghz)
    percent = inputs.time_percent(time_percent)
    height = inputs.antenna_height("tx_height_m", tx_height_m)
    spacing = checked_spacing(spacing_km)
    polarization = inputs.polarization(polarization)
    lapse_rate = inputs.lapse_rate(delta_n)
    refractivity = inputs.surface_refractivity(n0)
    latitude = math.radians(inputs.latitude("latitude_deg", latitude_deg))
    wavelength = 0.2998 / f
    median_km = _EARTH_RADIUS_KM * 157.0 / (157.0 - lapse_rate)
    low_band = 45.375 - 137.0 * f + 92.5 * f * f if f < 0.5 else 0.0
    scatter = 190.1 + 25.0 * math.log10(f) - 2.5 * math.log10(f / 2.0) ** 2 - 0.15 * refractivity
    scatter -= 10.125 * math.log10(50.0 / percent) ** 0.7
    return Run(
        spacing_km=spacing,
        frequency_ghz=f,
        wavelength_m=wavelength,
        time_percent=percent,
        tx_height_m=height,
        sin_latitude=math.sin(latitude),
        cos_latitude=math.cos(latitude),
        median=_make_earth(median_km, f, spacing, polarization),
        anomalous=_make_earth(3.0 * _EARTH_RADIUS_KM, f, spacing, polarization),
        is_median=percent == 50.0,
        nu_factor=math.sqrt(0.002 / (wavelength * spacing)),
        free_space_db=92.4 + 20.0 * math.log10(f),
        log_time=math.log10(percent / 50.0),
        time_deviate=inverse_normal(percent / 100.0),
        scatter_db=scatter,
        coupling_db=102.45 + 20.0 * math.log10(f) + low_band,
        cube_root_f=f ** (1 / 3),
        per_mrad_db=5e-5 * median_km * f ** (1 / 3),
    )


def checked_spacing(spacing_km: object) -> float:
    """The spacing as a number inside SPACING_KM, else SampleSpacingRangeError."""
    spacing = inputs.number("spacing_km", spacing_km)
    low, high = SPACING_KM
    if low <= spacing <= high:
        return spacing
    raise errors.SampleSpacingRangeError(
        "spacing_km",
        spacing_km,
        f"{low:g} to {high:g} km",
        f"spacing_km is {spacing:g} km; the samples of a radial stand {low:g} to {high:g} km apart.",
    )


def pack(run: Run) -> FloatArray:
    """The run as the array of numbers that crosses into compiled code."""
    return np.array([*run[:16], *run.median, *run.anomalous], dtype=np.float64)


@_inlined
def _unpack(c: FloatArray) -> Run:
    median = Earth(c[16], c[17], c[18], c[19], c[20], c[21], c[22], c[23])
    anomalous = Earth(c[24], c[25], c[26], c[27], c[28], c[29], c[30], c[31])
    return Run(
        c[0], c[1], c[2], c[3], c[4], c[5], c[6], c[7] != 0.0, c[8], c[9], c[10], c[11], c[12], c[13], c[14],
        c[15], median, anomalous,
    )  # fmt: skip


def _make_earth(radius_km: float, f: float, spacing_km: float, polarization: Polarization) -> Earth:
    bulge = 500.0 * spacing_km**2 / radius_km
    return Earth(
        radius_km=radius_km,
        bulge_m=bulge,
        reach_factor=math.sqrt(0.002 * radius_km),
        per_root_bulge=1.0 / math.sqrt(bulge),
        x_factor=21.88 * (f / radius_km**2) ** (1 / 3),
        y_factor=0.9575 * (f * f / radius_km) ** (1 / 3),
        land_admittance=_admittance(radius_km, f, _GROUND_LAND, polarization),
        sea_admittance=_admittance(radius_km, f, _GROUND_SEA, polarization),
    )


def _admittance(radius_km: float, f: float, ground: tuple[float, float], polarization: Polarization) -> float:
    """Normalised surface admittance K, [29]."""
    permittivity, conductivity = ground
    loss = (18.0 * conductivity / f) ** 2
    horizontal = 0.036 * (radius_km * f) ** (-1 / 3) * ((permittivity - 1.0) ** 2 + loss) ** -0.25
    return float(
        horizontal if polarization == "horizontal" else horizontal * math.sqrt(permittivity**2 + loss)
    )


def make_tables(run: Run, samples: int, latitude_deg: float) -> FloatArray:
    """Tables for k = 0..samples, shape (5, samples + 1); the rows are named above."""
    k = np.arange(samples + 1, dtype=np.float64)
    k[0] = 1.0  # sample 0 is never looked up; this keeps its logarithm and its root finite
    distance = k * run.spacing_km
    weight = 1.0 / np.sqrt(k)
    return np.stack(
        (
            weight,
            weight[::-1],
            20.0 * np.log10(distance),
            _least_time_loss(distance, abs(latitude_deg), run.time_percent, True),
            _least_time_loss(distance, abs(latitude_deg), run.time_percent, False),
        )
    )


# ----------------------------------------------------------------------------------------------
# 2. Closed formulas
# ----------------------------------------------------------------------------------------------


@_inlined
def _log10(x: float) -> float:
    return math.log(x) * _PER_LN10


@_inlined
def _atan_mrad(slope: float) -> float:
    """1000 atan(slope); below 0.03 the series is exact to the last bit and far cheaper."""
    if abs(slope) < 0.03:
        s = slope * slope
        return 1000.0 * slope * (1.0 - s * (1.0 / 3.0 - s * (0.2 - s * (1.0 / 7.0 - s / 9.0))))
    return 1000.0 * math.atan(slope)


@_part
def _inverse_normal(x: float) -> float:
    """The Recommendation's approximate normal deviate, upper tail."""
    x = max(1e-6, min(1.0 - 1e-6, x))
    tail = x if x <= 0.5 else 1.0 - x
    t = math.sqrt(-2.0 * math.log(tail))
    c = ((0.010328 * t + 0.802853) * t + 2.515516698) / (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0)
    return t - c if x <= 0.5 else c - t


@_inlined
def _bullington(nu: float, distance_km: float) -> float:
    """Loss of one edge and the empirical addition for the distance, [12] and [21]; nu above -0.78."""
    v = nu - 0.1
    edge = 6.9 + 20.0 * _log10(math.sqrt(v * v + 1.0) + v)
    return edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * distance_km)


@_inlined
def _height_gain(b: float, floor: float) -> float:
    """G(B) of [34] with its floor 2 + 20 log K."""
    if b > 2.0:
        return max(17.6 * math.sqrt(b - 1.1) - 5.0 * _log10(b - 1.1) - 8.0, floor)
    return max(20.0 * _log10(b + 0.1 * b * b * b), floor)


@_inlined
def _first_term(
    distance_km: float, tx_m: float, rx_m: float, admittance: float, x_factor: float, y_factor: float
) -> float:
    """First-term spherical-earth loss over one kind of ground, [30] to [36]."""
    k2 = admittance * admittance
    beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2)
    x = beta * x_factor * distance_km
    b_tx = beta * beta * y_factor * tx_m
    b_rx = beta * beta * y_factor * rx_m
    if b_tx <= 2.0 and b_rx <= 2.0:
        # Both gains are 20 log of something: one logarithm serves, and the floors go inside it.
        least = 1.2589254117941673 * admittance  # 10^(2/20) K
        gains = 20.0 * _log10(
            max(b_tx + 0.1 * b_tx * b_tx * b_tx, least) * max(b_rx + 0.1 * b_rx * b_rx * b_rx, least)
        )
    else:
        floor = 2.0 + 20.0 * _log10(admittance)
        gains = _height_gain(b_tx, floor) + _height_gain(b_rx, floor)
    log_x = math.log(x)
    if x >= 1.6:
        return 17.6 * x - 11.0 - 10.0 * _PER_LN10 * log_x - gains
    return 20.0 * _PER_LN10 * log_x + 5.6488 * math.exp(1.425 * log_x) - gains


@_inlined
def _first_term_mixed(
    distance_km: float, tx_m: float, rx_m: float, sea_fraction: float, earth: Earth, shrink: float
) -> float:
    """[28]; shrink is the cube root of how much smaller the Earth radius is than `earth`, see `_spherical`."""
    x_factor = earth.x_factor * shrink * shrink
    y_factor = earth.y_factor * shrink
    land = 0.0
    sea = 0.0
    if sea_fraction < 1.0:
        land = _first_term(distance_km, tx_m, rx_m, earth.land_admittance * shrink, x_factor, y_factor)
    if sea_fraction > 0.0:
        sea = _first_term(distance_km, tx_m, rx_m, earth.sea_admittance * shrink, x_factor, y_factor)
    return sea_fraction * sea + (1.0 - sea_fraction) * land


@_inlined
def _spherical(
    distance_km: float,
    tx_m: float,
    rx_m: float,
    roots: float,
    sea_fraction: float,
    earth: Earth,
    wavelength_m: float,
) -> float:
    """Spherical-earth loss L_dsph of [22] to [27]; roots is sqrt(tx_m) + sqrt(rx_m)."""
    ratio = distance_km / (earth.reach_factor * roots)
    if ratio >= 1.0:
        return _first_term_mixed(distance_km, tx_m, rx_m, sea_fraction, earth, 1.0)
    both = tx_m + rx_m
    c = (tx_m - rx_m) / both
    m = 250.0 * distance_km * distance_km / (earth.radius_km * both)
    m1 = m + 1.0
    angle = math.acos(1.5 * c * math.sqrt(3.0 * m / (m1 * m1 * m1)))
    b = 2.0 * math.sqrt(m1 / (3.0 * m)) * math.cos(math.pi / 3.0 + angle / 3.0)
    d1 = 0.5 * distance_km * (1.0 + b)
    d2 = distance_km - d1
    bend = 500.0 / earth.radius_km
    clearance = ((tx_m - bend * d1 * d1) * d2 + (rx_m - bend * d2 * d2) * d1) / distance_km
    required = 17.456 * math.sqrt(d1 * d2 * wavelength_m / distance_km)
    if clearance > required:
        return 0.0
    # The radius that just grazes, a_em of [26], is a_p ratio^2. K and Y go with its power -1/3 and
    # X with -2/3, so one factor serves all three.
    shrink = math.exp(-2.0 / 3.0 * math.log(ratio))
    loss = max(_first_term_mixed(distance_km, tx_m, rx_m, sea_fraction, earth, shrink), 0.0)
    return (1.0 - clearance / required) * loss


# ----------------------------------------------------------------------------------------------
# 3. Upper convex hulls that grow at the far end
# ----------------------------------------------------------------------------------------------
# Slope and intercept of a vertex belong to the edge that arrives there from the vertex before, so vertex 0 has
# none. Slopes descend along the hull.


@_inlined
def _hull_push(i: int, profile: int, line: Line) -> None:
    """Add sample i of a profile at the right end of its hull. Amortised O(1)."""
    work = line.work
    vertex = _HULLS + 3 * profile
    slope, intercept = vertex + 1, vertex + 2
    size = line.counts[profile]
    y = work[profile, i]
    while size > 1 and y >= work[intercept, size - 1] + work[slope, size - 1] * i:
        size -= 1
    work[vertex, size] = i
    if size > 0:
        before = int(work[vertex, size - 1])
        m = (y - work[profile, before]) / (i - before)
        work[slope, size] = m
        work[intercept, size] = y - m * i
    line.counts[profile] = size + 1


@_inlined
def _hull_tangent(x: float, y: float, profile: int, line: Line) -> int:
    """The sample that the steepest line back from (x, y) touches, x right of the whole hull; -1 if empty.

    Among equals the last. Extended to x the edges descend in height, so a binary search finds the
    first that passes below the point.
    """
    vertex = _HULLS + 3 * profile
    slope, intercept = vertex + 1, vertex + 2
    low = 1
    high = line.counts[profile]
    if high == 0:
        return -1
    while low < high:
        middle = (low + high) >> 1
        if y > line.work[intercept, middle] + line.work[slope, middle] * x:
            high = middle
        else:
            low = middle + 1
    return int(line.work[vertex, low - 1])


@_inlined
def _hull_support(steepness: float, profile: int, line: Line) -> int:
    """The sample with the greatest y - steepness x; -1 if there is none."""
    vertex = _HULLS + 3 * profile
    low = 1
    high = line.counts[profile]
    if high == 0:
        return -1
    while low < high:
        middle = (low + high) >> 1
        if line.work[vertex + 1, middle] < steepness:
            high = middle
        else:
            low = middle + 1
    return int(line.work[vertex, low - 1])


@_inlined
def _steepest_back(x: float, y: float, profile: int, near_m: float, line: Line) -> tuple[float, int]:
    """Greatest slope from (x, y) back to the profile or to the point near_m one step before; and where, -1 there."""
    at = _hull_tangent(x, y, profile, line)
    slope = near_m - y
    if at >= 0:
        to_sample = (line.work[profile, at] - y) / (x - at)
        if to_sample > slope:
            return to_sample, at
    return slope, -1


@_part
def _block_maxima(n: int, profile: int, work: FloatArray) -> None:
    """Greatest of samples 32 b .. 32 b + 31 for every complete block; sample 0, never interior, left out."""
    for b in range((n + 1) // _BLOCK):
        most = -math.inf
        for i in range(max(1, b * _BLOCK), (b + 1) * _BLOCK):
            most = max(most, work[profile, i])
        work[_BLOCKS + profile, b] = most


# ----------------------------------------------------------------------------------------------
# 4. The Bullington construction
# ----------------------------------------------------------------------------------------------


@_inlined
def _scan_clearance(
    first: int, last: int, x: float, profile: int, tx_m: float, ray: float, best: float, line: Line
) -> float:
    """Largest of best and (y_i - ray) / sqrt(i (x - i)) for i = first..last, all below the ray.

    The table's weights belong to x rounded up, so they are a little too small and the value, being
    negative, a little too large: whatever does not beat best with them need not be computed.
    """
    shift = line.tables.shape[1] - 1 - math.ceil(x)
    for i in range(first, last + 1):
        above = line.work[profile, i] - tx_m - ray * i
        if above * line.tables[_WEIGHT, i] * line.tables[_WEIGHT_REVERSED, shift + i] > best:
            best = max(best, above / math.sqrt(i * (x - i)))
    return best


@_inlined
def _block_bound(
    first: int, last: int, x: float, greatest: float, tx_m: float, ray: float, line: Line
) -> float:
    """No sample of the block comes closer to the ray than this, in the measure of `_scan_clearance`.

    Valid while the ray clears the block (bracket below 0): then the smallest weight is the bound.
    """
    bracket = greatest - tx_m - min(ray * first, ray * last)
    if bracket >= 0.0:
        return math.inf
    k = math.ceil(x)
    if 2 * last <= k:
        return float(bracket * line.tables[_WEIGHT, last] * line.tables[_WEIGHT, k - last])
    if 2 * first >= k:
        return float(bracket * line.tables[_WEIGHT, first] * line.tables[_WEIGHT, k - first])
    return bracket * 2.0 / k


@_inlined
def _least_clearance(
    spot: Spot, profile: int, near_m: float, tx_m: float, ray: float, best: float, line: Line
) -> float:
    """The largest nu of [15] over the interior points, without its constant factor, or `best`.

    The point that maximises nu need not be a vertex of the hull, so the samples are scanned; on long
    radials from the receiver backwards, by blocks whose bound may rule them out.
    """
    x = spot.at
    best = max(best, (near_m - tx_m - ray * spot.near) / math.sqrt(spot.near))  # x - near is 1
    if spot.last < _SCAN_IN_BLOCKS_FROM:
        return _scan_clearance(1, spot.last, x, profile, tx_m, ray, best, line)
    complete = (spot.last + 1) // _BLOCK
    best = _scan_clearance(complete * _BLOCK, spot.last, x, profile, tx_m, ray, best, line)
    for b in range(complete - 1, -1, -1):
        first = max(1, b * _BLOCK)
        last = b * _BLOCK + _BLOCK - 1
        greatest = line.work[_BLOCKS + profile, b]
        if _block_bound(first, last, x, greatest, tx_m, ray, line) > best:
            best = _scan_clearance(first, last, x, profile, tx_m, ray, best, line)
    return best


@_inlined
def _edge_nu(x: float, rise: float, ahead: float, behind: float, excess: float, factor: float) -> float:
    """nu of the Bullington point, [18] and [19]; 0 at exact grazing.

    rise: receiver above transmitter; ahead, behind: the two steepest slopes; excess: the first of them
    above the direct ray; factor: sqrt(0.002 / (lambda Delta)) sqrt(x).
    """
    both = ahead + behind
    if both <= 0.0:
        return 0.0
    edge = (rise + behind * x) / both
    if edge <= 0.0 or edge >= x:
        return 0.0
    return factor * excess * math.sqrt(edge / (x - edge))


@_inlined
def _actual_bullington(
    spot: Spot, path: Path, profile: int, earth: Earth, factor: float, line: Line
) -> float:
    """Bullington loss of the terrain with its clutter, [13] to [21]; profile: the row for this Earth radius."""
    x = spot.at
    tx_m = path.tx_top_m
    curved_rx = path.rx_top_m - earth.bulge_m * x * x
    near_m = spot.near_ground_m + spot.near_cover_m - earth.bulge_m * spot.near * spot.near
    steepest = max(line.state[_STEEPEST + profile], (near_m - tx_m) / spot.near)
    ray = (curved_rx - tx_m) / x
    if steepest < ray:
        threshold = _NO_LOSS_NU / factor
        best = _least_clearance(spot, profile, near_m, tx_m, ray, threshold, line)
        if best <= threshold:
            return 0.0
        return _bullington(best * factor, path.distance_km)
    behind, _ = _steepest_back(x, curved_rx, profile, near_m, line)
    nu = _edge_nu(x, curved_rx - tx_m, steepest, behind, steepest - ray, factor)
    return _bullington(nu, path.distance_km)


@_inlined
def _tx_dip(spot: Spot, height_m: float, root_m: float, earth: Earth) -> float:
    """Least of q i + height / i over the interior points: how far the smooth Earth falls away from the antenna.

    Convex in i, so the best sample is a neighbour of the continuous minimum sqrt(height / q).
    """
    dip = earth.bulge_m * spot.near + height_m / spot.near
    if spot.last < 1:
        return dip
    i = min(max(int(root_m * earth.per_root_bulge), 1), spot.last)
    dip = min(dip, earth.bulge_m * i + height_m / i)
    if i < spot.last:
        dip = min(dip, earth.bulge_m * (i + 1) + height_m / (i + 1))
    return dip


@_inlined
def _rx_dip(spot: Spot, height_m: float, root_m: float, earth: Earth) -> float:
    """The same seen from the receiver, whose distance to sample i is x - i."""
    dip = earth.bulge_m + height_m
    if spot.last < 1:
        return dip
    i = min(max(int(spot.at - root_m * earth.per_root_bulge), 1), spot.last)
    back = spot.at - i
    dip = min(dip, earth.bulge_m * back + height_m / back)
    if i < spot.last:
        dip = min(dip, earth.bulge_m * (back - 1.0) + height_m / (back - 1.0))
    return dip


@_inlined
def _smooth_clearance(i: float, x: float, tx_m: float, rx_m: float, earth: Earth) -> float:
    """nu of [15] over the smooth Earth at i, without its constant factor."""
    both = i * (x - i)
    return (earth.bulge_m * both - (tx_m * (x - i) + rx_m * i) / x) / math.sqrt(both)


@_inlined
def _least_smooth_clearance(spot: Spot, tx_m: float, rx_m: float, earth: Earth) -> float:
    """Greatest of `_smooth_clearance` over the interior points by binary search.

    With i/x = 1/(1 + exp(-2u)) and all values negative (line of sight) nu is strictly concave in u, so it has one
    maximum, and the sign of its derivative, which needs no root, tells on which side.
    """
    x = spot.at
    best = _smooth_clearance(spot.near, x, tx_m, rx_m, earth)
    if spot.last < 1:
        return best
    tilt = 2.0 * (rx_m - tx_m) / x
    low = 1
    high = spot.last
    while low < high:
        i = (low + high) >> 1
        both = i * (x - i)
        ray = (tx_m * (x - i) + rx_m * i) / x
        if (x - 2.0 * i) * (earth.bulge_m * both + ray) > tilt * both:
            low = i + 1
        else:
            high = i
    best = max(best, _smooth_clearance(low, x, tx_m, rx_m, earth))
    if low > 1:
        best = max(best, _smooth_clearance(low - 1, x, tx_m, rx_m, earth))
    return best


@_inlined
def _smooth_bullington(
    spot: Spot,
    path: Path,
    tx_m: float,
    rx_m: float,
    tx_root: float,
    rx_root: float,
    earth: Earth,
    factor: float,
) -> float:
    """Bullington loss of the smooth Earth at the points of the profile, without a loop over them.

    Heights are the effective ones of [37]; tx_root, rx_root their square roots.
    """
    x = spot.at
    ray = (rx_m - tx_m) / x
    ahead = earth.bulge_m * x - _tx_dip(spot, tx_m, tx_root, earth)
    if ahead < ray:
        nu = _least_smooth_clearance(spot, tx_m, rx_m, earth) * factor
        if nu <= _NO_LOSS_NU:
            return 0.0
        return _bullington(nu, path.distance_km)
    behind = earth.bulge_m * x - _rx_dip(spot, rx_m, rx_root, earth)
    nu = _edge_nu(x, rx_m - tx_m, ahead, behind, ahead - ray, factor)
    return _bullington(nu, path.distance_km)


# ----------------------------------------------------------------------------------------------
# 5. Time percentage and ducting
# ----------------------------------------------------------------------------------------------


@_inlined
def _inland_weight(inland_km: float) -> float:
    """tau of [3]."""
    return 1.0 - math.exp(-4.12e-4 * inland_km**2.41)


@_part
def _log_anomalous_percent(latitude_deg: float, land_km: float, tau: float) -> float:
    """log beta0 of [2] to [5]; latitude without its sign."""
    near = 10.0 ** (-land_km / (16.0 - 6.6 * tau))
    far = 10.0 ** (-5.0 * (0.496 + 0.354 * tau))
    log_mu1 = min(0.2 * _log10(near + far), 0.0)
    if latitude_deg <= 70.0:
        return 1.67 - 0.015 * latitude_deg + (0.065 + 0.0176 * latitude_deg) * log_mu1
    return _log10(4.17) + 1.3 * log_mu1


@_inlined
def _centre_latitude(distance_km: float, cos_azimuth: float, run: Run) -> float:
    """Latitude of the path centre without its sign, degrees."""
    arc = 0.5 * distance_km / _EARTH_RADIUS_KM
    sine = run.sin_latitude * math.cos(arc) + run.cos_latitude * math.sin(arc) * cos_azimuth
    return abs(math.degrees(math.asin(max(-1.0, min(1.0, sine)))))


@_inlined
def _time_loss(log_beta: float, distance_km: float, d_power: float, time_percent: float) -> float:
    """A_p of [53]; log_beta is log beta of [54], d_power is 1e-6 d^1.13."""
    gamma = 1.076 * math.exp(
        -1.012 * math.log(2.0058 - log_beta) - (9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * d_power
    )
    log_ratio = _log10(time_percent) - log_beta
    return -12.0 + (1.2 + 3.7e-3 * distance_km) * log_ratio + 12.0 * math.exp(gamma * log_ratio * _LN10)


@_entry
def _least_time_loss(
    distance_km: FloatArray, latitude_deg: float, time_percent: float, inland: bool
) -> FloatArray:
    """For every distance a bound below [53], whatever the terrain.

    beta never exceeds beta0, and beta0 is greatest at the lowest latitude the path centre can have (and
    over the sea, unless the path is all inland). The minimum over 12 decades of beta is found on a grid;
    2 dB are taken off for what lies between its points.
    """
    out = np.empty(distance_km.shape[0])
    for k in range(distance_km.shape[0]):
        d = distance_km[k]
        lowest = max(latitude_deg - math.degrees(0.5 * d / _EARTH_RADIUS_KM), 0.0)
        if inland:
            most = _log_anomalous_percent(lowest, d, _inland_weight(d))
        else:
            most = _log_anomalous_percent(lowest, 0.0, 0.0)
        d_power = 1e-6 * d**1.13
        least = math.inf
        for step in range(121):
            least = min(least, _time_loss(most - 0.1 * step, d, d_power, time_percent))
        out[k] = least - 2.0
    return out


@_inlined
def _duct_bound(spot: Spot, path: Path, line: Line) -> float:
    """A bound below L_ba of [46] that needs neither the roughness nor beta."""
    run, state, tables = line.run, line.state, line.tables
    d = path.distance_km
    k = spot.last + 2
    angle = 1000.0 * d / run.median.radius_km
    row = _INLAND_BOUND_DB if state[_INLAND_KM] >= d else _ANY_BOUND_DB
    bound = run.coupling_db + min(tables[row, k - 1], tables[row, k])
    if state[_SEA_FRACTION] >= 0.75:
        bound -= 12.0  # [49] and [49a] can give at most 6 dB each
    if path.tx_horizon < 0:
        angle += min(path.tx_angle_mrad, 0.0) + min(path.rx_angle_mrad, 0.0)
        return float(bound + path.distance_db + run.per_mrad_db * angle)
    near = 0.1 * path.tx_horizon * run.spacing_km
    far = 0.1 * (spot.at - path.rx_horizon) * run.spacing_km
    angle += min(path.tx_angle_mrad, near) + min(path.rx_angle_mrad, far)
    excess = max(path.tx_angle_mrad - near, 0.0) + max(path.rx_angle_mrad - far, 0.0)
    apart = int(path.tx_horizon + spot.at - path.rx_horizon)  # rounded down: still a bound
    bound += 0.264 * run.cube_root_f * excess
    return float(bound + tables[_DISTANCE_DB, apart] + run.per_mrad_db * angle)


@_part
def _closest_to_ray(spot: Spot, path: Path, run: Run, work: FloatArray) -> float:
    """The last interior point with the greatest nu over bare terrain: where both ends see each other the method
    takes it for the horizon of both.

    Terms in the order the general implementation has them: on symmetric terrain two points tie to the last
    bit, and any other order would break the tie another way.
    """
    d = path.distance_km
    bend = 500.0 / run.median.radius_km
    most = -math.inf
    found = spot.near
    for i in range(1, spot.last + 2):
        position, height = float(i), work[_GROUND, i]
        if i > spot.last:
            position, height = spot.near, spot.near_ground_m
        ahead = position * run.spacing_km
        behind = d - ahead
        both = ahead * behind
        ray = (path.tx_top_m * behind + path.rx_top_m * ahead) / d
        above = height + bend * both - ray
        nu = above * math.sqrt(0.002 * d / (run.wavelength_m * both))
        if nu >= most:
            most = nu
            found = position
    return found


@_part
def _roughness(
    spot: Spot, first: float, last: float, start_m: float, slope: float, work: FloatArray
) -> float:
    """h_m of [95]: greatest height above the smooth surface start_m + slope i, from one horizon to the other."""
    most = -math.inf
    if last > spot.last:
        most = spot.near_ground_m - start_m - slope * spot.near
    if first > spot.last:
        return most
    i = int(first)
    stop = min(int(last), spot.last)
    while i <= stop:
        end = i + _BLOCK - 1
        if i % _BLOCK == 0 and end <= stop:
            bound = work[_BLOCKS + _GROUND, i // _BLOCK] - start_m - min(slope * i, slope * end)
            if bound <= most:
                i += _BLOCK
                continue
        most = max(most, work[_GROUND, i] - start_m - slope * i)
        i += 1
    return most


@_inlined
def _shielding(angle_mrad: float, horizon_km: float, run: Run) -> float:
    """A_st or A_sr of [48]."""
    excess = angle_mrad - 0.1 * horizon_km
    if excess <= 0.0:
        return 0.0
    spread = 20.0 * _log10(1.0 + 0.361 * excess * math.sqrt(run.frequency_ghz * horizon_km))
    return spread + 0.264 * excess * run.cube_root_f


@_inlined
def _over_sea(coast_km: float, horizon_km: float, antenna_m: float, sea_fraction: float) -> float:
    """A_ct or A_cr of [49]."""
    if coast_km > 5.0 or coast_km > horizon_km or sea_fraction < 0.75:
        return 0.0
    return -3.0 * math.exp(-0.25 * coast_km * coast_km) * (1.0 + math.tanh(0.07 * (50.0 - antenna_m)))


@_inlined
def _duct_log_percent(
    spot: Spot, path: Path, tau: float, log_beta0: float, first: float, last: float, line: Line
) -> float:
    """log beta of [54] to [56]."""
    run, work = line.run, line.work
    d = line.state[_DISTANCE_KM]
    start = min(path.tx_fitted_m, work[_GROUND, 0])
    end = min(path.rx_fitted_m, spot.ground_m)
    rough = _roughness(spot, first, last, start, (end - start) / spot.at, work)
    log_beta = log_beta0
    if rough > 10.0:
        between_km = min((last - first) * run.spacing_km, 40.0)
        log_beta -= 4.6e-5 * (rough - 10.0) * (43.0 + 6.0 * between_km) * _PER_LN10
    roots = math.sqrt(path.tx_top_m - start) + math.sqrt(path.rx_top_m - end)
    base = 500.0 / run.median.radius_km * d * d / (roots * roots)
    if base > 1.0:
        alpha = max(-0.6 - 3.5e-9 * d**3.1 * tau, -3.4)
        log_beta += alpha * _log10(base)
    return log_beta


@_part
def _duct_loss(spot: Spot, path: Path, line: Line) -> float:
    """L_ba of [46] to [56], exactly."""
    run, state = line.run, line.state
    d = state[_DISTANCE_KM]
    first, last = path.tx_horizon, path.rx_horizon
    if first < 0:
        first = _closest_to_ray(spot, path, run, line.work)
        last = first
    near_km = first * run.spacing_km
    far_km = (spot.at - last) * run.spacing_km
    tau = _inland_weight(state[_INLAND_KM])
    latitude = _centre_latitude(d, line.cos_azimuth, run)
    log_beta0 = _log_anomalous_percent(latitude, state[_LAND_KM], tau)
    log_beta = _duct_log_percent(spot, path, tau, log_beta0, first, last, line)
    angle = 1000.0 * d / run.median.radius_km
    angle += min(path.tx_angle_mrad, 0.1 * near_km) + min(path.rx_angle_mrad, 0.1 * far_km)
    loss = run.coupling_db + 20.0 * _log10(near_km + far_km)
    loss += _shielding(path.tx_angle_mrad, near_km, run) + _shielding(path.rx_angle_mrad, far_km, run)
    loss += _over_sea(state[_TX_COAST_KM], near_km, path.tx_top_m, state[_SEA_FRACTION])
    loss += _over_sea(state[_RX_COAST_KM], far_km, path.rx_top_m, state[_SEA_FRACTION])
    loss += run.per_mrad_db * angle
    return float(loss + _time_loss(log_beta, d, 1e-6 * d**1.13, run.time_percent))


# ----------------------------------------------------------------------------------------------
# 6. One receiver
# ----------------------------------------------------------------------------------------------


@_inlined
def _see(spot: Spot, rx_height_m: float, line: Line) -> Path:
    """Horizons, path type, fitted surface and line-of-sight losses, sections 6 and 7."""
    run, state, work = line.run, line.state, line.work
    x, d = spot.at, spot.at * run.spacing_km
    origin = work[_GROUND, 0]
    tx_top, rx_top = origin + run.tx_height_m, spot.ground_m + rx_height_m
    near_m = spot.near_ground_m - run.median.bulge_m * spot.near * spot.near
    curved_rx = rx_top - run.median.bulge_m * x * x
    ray = (curved_rx - tx_top) / x
    highest, tx_at = state[_STEEPEST + line.bare], float(line.counts[_HORIZON])
    to_near = (near_m - tx_top) / spot.near
    if to_near > highest:
        highest, tx_at = to_near, spot.near
    ahead, behind, rx_at, apart = ray, -ray, -1.0, x
    if highest > ray:
        ahead = highest
        behind, at = _steepest_back(x, curved_rx, line.bare, near_m, line)
        rx_at = float(at) if at >= 0 else spot.near
        apart = tx_at + x - rx_at
    else:
        tx_at = -1.0
    per_sample = 0.001 / run.spacing_km
    tx_fitted, rx_fitted = _fitted_surface(spot, origin, state)
    distance_db = 20.0 * _log10(d)
    drop = 0.001 * (tx_top - rx_top) / d
    free = run.free_space_db + distance_db + 10.0 * _log_of_one_and(drop * drop)
    depth = 0.0
    if not run.is_median or state[_SEA_FRACTION] > 0.0:
        depth = 2.6 * (1.0 - math.exp(-0.1 * apart * run.spacing_km))
    return Path(
        d,
        distance_db,
        tx_top,
        rx_top,
        tx_at,
        rx_at,
        _atan_mrad(ahead * per_sample),
        _atan_mrad(behind * per_sample - d / run.median.radius_km),
        tx_fitted,
        rx_fitted,
        free,
        free + depth * run.log_time,
        depth,
    )


@_inlined
def _log_of_one_and(t: float) -> float:
    """log(1 + t) for t of 0 or more; below 1e-3 by its series, exact to the last bit."""
    if t < 1e-3:
        return _PER_LN10 * t * (1.0 - t * (0.5 - t * (1.0 / 3.0 - t * (0.25 - t * 0.2))))
    return _log10(1.0 + t)


@_inlined
def _fitted_surface(spot: Spot, origin: float, state: FloatArray) -> tuple[float, float]:
    """Least-squares line through the path's terrain at both ends, [85] to [88], m."""
    x, near, last = spot.at, spot.near, float(spot.last)
    h_last, h_near, h_rx = state[_LAST_HEIGHT], spot.near_ground_m - origin, spot.ground_m - origin
    step = near - last
    sum_1 = state[_SUM_1] + step * (h_near + h_last) + (h_rx + h_near)
    sum_2 = state[_SUM_2] + step * (h_near * (2.0 * near + last) + h_last * (near + 2.0 * last))
    sum_2 += h_rx * (2.0 * x + near) + h_near * (x + 2.0 * near)
    return origin + (2.0 * x * sum_1 - sum_2) / (x * x), origin + (sum_2 - x * sum_1) / (x * x)


@_inlined
def _effective_heights(spot: Spot, path: Path, line: Line) -> tuple[float, float]:
    """Antennas above the smooth surface of the diffraction model, [89] to [91] and [37].

    The surface is lowered only where something stands above the straight line between the antennas,
    and that is so exactly where the flat profile is somewhere steeper than the line.
    """
    work = line.work
    tx_top, rx_top, x = path.tx_top_m, path.rx_top_m, spot.at
    tx_fitted, rx_fitted = path.tx_fitted_m, path.rx_fitted_m
    slope = (rx_top - tx_top) / x
    ahead = max(line.state[_STEEPEST + _GROUND], (spot.near_ground_m - tx_top) / spot.near) - slope
    if ahead > 0.0:
        obstruction = spot.near_ground_m - slope * spot.near - tx_top
        top = _hull_support(slope, _GROUND, line)
        if top >= 0:
            obstruction = max(obstruction, work[_GROUND, top] - slope * top - tx_top)
        behind, _ = _steepest_back(x, rx_top, _GROUND, spot.near_ground_m, line)
        behind += slope
        if obstruction > 0.0 and behind > 0.0:
            tx_fitted -= obstruction * ahead / (ahead + behind)
            rx_fitted -= obstruction * behind / (ahead + behind)
    return tx_top - min(tx_fitted, work[_GROUND, 0]), rx_top - min(rx_fitted, spot.ground_m)


@_inlined
def _delta_bullington(
    spot: Spot, path: Path, tx_m: float, rx_m: float, profile: int, earth: Earth, line: Line
) -> float:
    """L_d of [39] for one effective Earth radius; tx_m, rx_m the effective heights."""
    factor = line.run.nu_factor * math.sqrt(spot.at)
    actual = _actual_bullington(spot, path, profile, earth, factor, line)
    tx_root, rx_root = math.sqrt(tx_m), math.sqrt(rx_m)
    sea = line.state[_SEA_FRACTION]
    sphere = _spherical(path.distance_km, tx_m, rx_m, tx_root + rx_root, sea, earth, line.run.wavelength_m)
    if sphere <= 0.0:
        return actual
    smooth = _smooth_bullington(spot, path, tx_m, rx_m, tx_root, rx_root, earth, factor)
    return actual + max(sphere - smooth, 0.0)


@_inlined
def _smaller_smoothly(first_db: float, second_db: float) -> float:
    """[60]."""
    gap = abs(first_db - second_db)
    high = max(first_db, second_db)
    return high if gap > 100.0 else high + 2.5 * math.log1p(math.exp(-gap / 2.5))


@_inlined
def _power_sum(first_db: float, second_db: float) -> float:
    """[63]; beyond 65 dB apart the weaker path adds less than 1e-12 dB."""
    gap = abs(first_db - second_db)
    low = min(first_db, second_db)
    return low if gap > 65.0 else low - 5.0 * _log_of_one_and(math.exp(-0.2 * _LN10 * gap))


@_inlined
def _with_ducting(spot: Spot, path: Path, diffracted_db: float, line: Line) -> float:
    """L_bda of [60] and [61]. The exact ducting loss is computed only where its bound lets it matter."""
    bound = _duct_bound(spot, path, line)
    if bound >= diffracted_db or _smaller_smoothly(bound, path.sight_db) >= diffracted_db:
        return diffracted_db
    least = _smaller_smoothly(_duct_loss(spot, path, line), path.sight_db)
    if least > diffracted_db:
        return diffracted_db
    by_distance = 1.0 / (1.0 + math.exp(min(0.15 * (path.distance_km - 20.0), 700.0)))  # F_k, [58]
    return least + (diffracted_db - least) * by_distance


@_inlined
def _combine(spot: Spot, path: Path, median_db: float, anomalous_db: float, line: Line) -> float:
    """L_bc of [63] from both diffraction losses L_d of [39]."""
    run, state = line.run, line.state
    share = state[_TIME_FACTOR]
    median_basic = path.free_space_db + median_db
    diffraction = median_db if run.is_median else median_db + share * (anomalous_db - median_db)
    diffracted = path.sight_db + diffraction
    over_sea = (1.0 - state[_SEA_FRACTION]) * diffraction
    least = median_basic
    if share >= 1.0:
        least = path.sight_db + over_sea
    elif share > 0.0:
        anomalous = path.free_space_db + path.depth_db * (state[_LOG_BETA0] - _LOG_50) + over_sea
        least += (anomalous - median_basic) * share
    either = _with_ducting(spot, path, diffracted, line)
    angle = 1000.0 * path.distance_km / run.median.radius_km + path.tx_angle_mrad + path.rx_angle_mrad
    blend = 16.0 * (angle - 0.3)
    if blend < 60.0:  # beyond, F_j of [57] is below 1e-26
        either += (least - either) / (1.0 + math.exp(blend))
    scatter = run.scatter_db + path.distance_db + 0.573 * angle
    return _power_sum(scatter, either)


@_inlined
def _loss_to_receiver(spot: Spot, rx_height_m: float, line: Line) -> tuple[float, float, float, float]:
    """Loss before location variability and floor, the floor L_b0p, and both horizons."""
    path = _see(spot, rx_height_m, line)
    tx_m, rx_m = _effective_heights(spot, path, line)
    median, anomalous = 0.0, 0.0
    if line.state[_TIME_FACTOR] < 1.0:
        median = _delta_bullington(spot, path, tx_m, rx_m, _CURVED, line.run.median, line)
    if not line.run.is_median:
        anomalous = _delta_bullington(spot, path, tx_m, rx_m, _ANOMALOUS, line.run.anomalous, line)
    loss = _combine(spot, path, median, anomalous, line)
    return loss, path.sight_db, path.tx_horizon, path.rx_horizon


@_inlined
def _next_door(x: float, ground_m: float, rx_height_m: float, line: Line) -> float:
    """Free space within one sample, where nothing lies between; the Recommendation begins at 0.25 km."""
    d = max(x * line.run.spacing_km, 0.001)
    drop = 0.001 * (line.work[_GROUND, 0] + line.run.tx_height_m - ground_m - rx_height_m) / d
    return line.run.free_space_db + 20.0 * _log10(d) + 10.0 * _log_of_one_and(drop * drop)


# ----------------------------------------------------------------------------------------------
# 7. Zones along the radial
# ----------------------------------------------------------------------------------------------


@_part
def _enter_zone(border: float, zone: int, base: int, state: FloatArray) -> None:
    """Take a point into the zone statistics that start at state[base], section 3.

    border: half-way from the point before. A run that closes reaches to the border; one that is open
    when the path ends reaches to its end and no farther.
    """
    land = zone in (INLAND, COASTAL_LAND)
    if land and state[base + _LAND_START] < 0:
        state[base + _LAND_START] = border
    elif not land and state[base + _LAND_START] >= 0:
        run = border - state[base + _LAND_START]
        state[base + _LAND_LONGEST] = max(state[base + _LAND_LONGEST], run)
        state[base + _LAND_START] = -1.0
    inland = zone == INLAND
    if inland and state[base + _INLAND_START] < 0:
        state[base + _INLAND_START] = border
    elif not inland and state[base + _INLAND_START] >= 0:
        run = border - state[base + _INLAND_START]
        state[base + _INLAND_LONGEST] = max(state[base + _INLAND_LONGEST], run)
        state[base + _INLAND_START] = -1.0
    if zone == SEA and state[base + _SEA_START] < 0:
        state[base + _SEA_START] = border
        if state[base + _FIRST_COAST] < 0:
            state[base + _FIRST_COAST] = border
    elif zone != SEA and state[base + _SEA_START] >= 0:
        state[base + _SEA_TOTAL] += border - state[base + _SEA_START]
        state[base + _SEA_START] = -1.0


@_part
def _trial_zones(spot: Spot, near_zone: int, zone: int, line: Line) -> None:
    """Zone figures of the path to one receiver, from the statistics of the samples before it."""
    state, spacing = line.state, line.run.spacing_km
    for i in range(_ZONE_FIGURES):
        state[_TRIAL + i] = state[_ZONES + i]
    _enter_zone(0.5 * (spot.last + spot.near), near_zone, _TRIAL, state)
    _enter_zone(0.5 * (spot.near + spot.at), zone, _TRIAL, state)
    land_start, inland_start = state[_TRIAL + _LAND_START], state[_TRIAL + _INLAND_START]
    sea_start = state[_TRIAL + _SEA_START]
    open_land = spot.at - land_start if land_start >= 0 else 0.0
    open_inland = spot.at - inland_start if inland_start >= 0 else 0.0
    open_sea = spot.at - sea_start if sea_start >= 0 else 0.0
    state[_LAND_KM] = max(state[_TRIAL + _LAND_LONGEST], open_land) * spacing
    state[_INLAND_KM] = max(state[_TRIAL + _INLAND_LONGEST], open_inland) * spacing
    state[_SEA_FRACTION] = (state[_TRIAL + _SEA_TOTAL] + open_sea) / spot.at
    if state[_TRIAL + _FIRST_COAST] >= 0:
        # The last run of land ends at the receiver exactly if the receiver is not at sea.
        state[_TX_COAST_KM] = state[_TRIAL + _FIRST_COAST] * spacing
        state[_RX_COAST_KM] = open_land * spacing


@_part
def _anomalous_time(line: Line) -> None:
    """log beta0 and F_i of [40a]."""
    run, state = line.run, line.state
    latitude = _centre_latitude(state[_DISTANCE_KM], line.cos_azimuth, run)
    log_beta0 = _log_anomalous_percent(latitude, state[_LAND_KM], _inland_weight(state[_INLAND_KM]))
    beta0 = 10.0**log_beta0
    state[_LOG_BETA0] = log_beta0
    state[_TIME_FACTOR] = 1.0
    if run.time_percent > beta0:
        state[_TIME_FACTOR] = run.time_deviate / _inverse_normal(0.01 * beta0)


@_inlined
def _describe(spot: Spot, near_zone: int, zone: int, line: Line) -> None:
    """Zone figures of the path to a receiver, and what the time percentage makes of them.

    At 50 % the approximate normal deviate leaves F_i at some 1e-9 instead of 0. Over land that moves
    the loss by less than 1e-8 dB and is left out; over the sea, where [59] takes the diffraction away,
    it can reach 1e-6 dB.
    """
    state = line.state
    d = spot.at * line.run.spacing_km
    state[_DISTANCE_KM] = d
    state[_SEA_FRACTION] = 0.0
    state[_LAND_KM] = d
    state[_INLAND_KM] = d
    state[_TX_COAST_KM] = _INFINITE_COAST_KM
    state[_RX_COAST_KM] = _INFINITE_COAST_KM
    state[_TIME_FACTOR] = 0.0
    if line.zoned:
        _trial_zones(spot, near_zone, zone, line)
    if not line.run.is_median or state[_SEA_FRACTION] > 0.0:
        _anomalous_time(line)


# ----------------------------------------------------------------------------------------------
# 8. One radial after another
# ----------------------------------------------------------------------------------------------


@_part
def _prepare(n: int, ground: FloatArray, clutter: FloatArray, zones: ByteArray, line: Line) -> None:
    """Profiles and block maxima of a radial, and every running quantity at its start."""
    run, work, state = line.run, line.work, line.state
    cluttered = clutter.shape[0] > 0
    for i in range(n + 1):
        cover = clutter[i] if cluttered else 0.0
        bulge = run.median.bulge_m * i * i
        work[_GROUND, i] = ground[i]
        work[_CURVED, i] = ground[i] + cover - bulge
        work[_BARE, i] = ground[i] - bulge
        work[_ANOMALOUS, i] = ground[i] + cover - run.anomalous.bulge_m * i * i
    _block_maxima(n, _GROUND, work)
    _block_maxima(n, _CURVED, work)
    _block_maxima(n, _ANOMALOUS, work)
    state[:] = 0.0
    for profile in range(4):
        state[_STEEPEST + profile] = -math.inf
    for start in (_LAND_START, _INLAND_START, _SEA_START, _FIRST_COAST):
        state[_ZONES + start] = -1.0
    line.counts[:] = 0
    if zones.shape[0] > 0:
        _enter_zone(0.0, zones[0], _ZONES, state)


@_inlined
def _steepen(i: int, tx_top: float, profile: int, line: Line) -> bool:
    """Take sample i into the greatest slope from the transmitter; whether it is the new greatest."""
    slope = (line.work[profile, i] - tx_top) / i
    if slope > line.state[_STEEPEST + profile]:
        line.state[_STEEPEST + profile] = slope
        return True
    return False


@_inlined
def _advance(i: int, line: Line) -> None:
    """Make sample i an interior point of all paths that follow."""
    work, state = line.work, line.state
    origin = work[_GROUND, 0]
    here, before = work[_GROUND, i] - origin, state[_LAST_HEIGHT]
    state[_LAST_HEIGHT] = here
    state[_SUM_1] += here + before
    state[_SUM_2] += here * (3 * i - 1) + before * (3 * i - 2)
    tx_top = origin + line.run.tx_height_m
    _steepen(i, tx_top, _GROUND, line)
    _hull_push(i, _GROUND, line)
    higher = _steepen(i, tx_top, _CURVED, line)
    _hull_push(i, _CURVED, line)
    if line.bare != _CURVED:
        higher = _steepen(i, tx_top, _BARE, line)
        _hull_push(i, _BARE, line)
    if higher:
        line.counts[_HORIZON] = i
    if not line.run.is_median:
        _steepen(i, tx_top, _ANOMALOUS, line)
        _hull_push(i, _ANOMALOUS, line)


@_part
def _sweep_radial(
    n: int,
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    first: int,
    stop: int,
    at: FloatArray,
    spots: FloatArray,
    spot_zones: ByteArray,
    rx_heights: FloatArray,
    loss: FloatArray,
    floor: FloatArray,
    horizons: FloatArray,
    line: Line,
) -> None:
    """Losses to receivers first..stop - 1 of one radial, whose samples 0..n are known."""
    _prepare(n, ground, clutter, zones, line)
    inside = 0  # the last sample made interior
    for r in range(first, stop):
        x = at[r]
        k = math.ceil(x)
        known = k - 2 <= n and not math.isnan(spots[0, r]) and not math.isnan(spots[1, r])
        while known and inside < k - 2:
            inside += 1
            _advance(inside, line)
            if line.zoned:
                _enter_zone(inside - 0.5, zones[inside], _ZONES, line.state)
        spot = Spot(x, x - 1.0, k - 2, spots[0, r], spots[1, r], spots[2, r])
        if known and k >= 2:
            if line.zoned:
                _describe(spot, spot_zones[1, r], spot_zones[0, r], line)
            else:
                _describe(spot, INLAND, INLAND, line)
        for h in range(rx_heights.shape[0]):
            a, b, tx_at, rx_at = math.nan, math.nan, -1.0, -1.0
            if known and k >= 2:
                a, b, tx_at, rx_at = _loss_to_receiver(spot, rx_heights[h], line)
            elif known:
                a = _next_door(x, spots[0, r], rx_heights[h], line)
                b = a
            loss[h, r] = a
            floor[h, r] = b
            horizons[0, h, r] = tx_at
            horizons[1, h, r] = rx_at


@_entry
def sweep_radials(
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    last: IntArray,
    cos_azimuth: FloatArray,
    offsets: IntArray,
    at: FloatArray,
    spots: FloatArray,
    spot_zones: ByteArray,
    rx_heights: FloatArray,
    constants: FloatArray,
    tables: FloatArray,
    loss: FloatArray,
    floor: FloatArray,
    horizons: FloatArray,
) -> None:
    """Sweep several radials one after another; what one thread does in one go.

    ground: (radials, samples); clutter, zones: likewise, or (0, 0) for none and all inland.
    last: (radials,) the last sample of each radial whose ground is known.
    cos_azimuth: (radials,) cosine of the bearing at the transmitter, clockwise from north.
    offsets: (radials + 1,) the receivers of radial j are offsets[j] .. offsets[j + 1] - 1, by distance
    in samples rounded up.
    at: (receivers,) distance in samples. spots: (3, receivers) ground under the receiver, ground one step before
    it, clutter one step before it; NaN where not known. spot_zones: (2, receivers) zones of both, or (0, 0).
    constants, tables: from `pack` and `make_tables`, for as many samples as the radials have.
    loss: (heights, receivers) at the median location, before the floor is applied; floor: likewise; horizons:
    (2, heights, receivers) in samples from the transmitter, -1 in sight. NaN where ground on the way is unknown.
    """
    run = _unpack(constants)
    work = np.empty((_ROWS, ground.shape[1]))
    state = np.empty(_STATE)
    counts = np.empty(_COUNTS, np.int64)
    no_clutter, no_zones = np.empty(0), np.empty(0, np.uint8)
    cluttered, zoned = clutter.shape[0] > 0, zones.shape[0] > 0
    bare = _BARE if cluttered else _CURVED
    for j in range(ground.shape[0]):
        _sweep_radial(
            last[j], ground[j], clutter[j] if cluttered else no_clutter, zones[j] if zoned else no_zones,
            offsets[j], offsets[j + 1], at, spots, spot_zones, rx_heights, loss, floor, horizons,
            Line(run, tables, work, state, counts, bare, zoned, cos_azimuth[j]),
        )  # fmt: skip


# ----------------------------------------------------------------------------------------------
# 9. The way in from Python
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Receivers:
    """Receivers anywhere along a radial, by distance, nearest first. Arrays of shape (receivers,).

    at: distance in samples. ground_m: under the receiver. near_ground_m, near_clutter_m: one step nearer
    the transmitter. zone, near_zone: the codes of both.
    """

    at: FloatArray
    ground_m: FloatArray = field(repr=False)
    near_ground_m: FloatArray = field(repr=False)
    near_clutter_m: FloatArray = field(repr=False)
    zone: IntArray = field(repr=False)
    near_zone: IntArray = field(repr=False)


@dataclass(frozen=True, slots=True)
class Radial:
    """What a sweep knows about every receiver on a radial. Arrays have shape (heights, receivers).

    before_floor_db: loss for the wanted percentage of time at the median location, before the last
    step of the Recommendation. floor_db: line-of-sight loss for that time, which no path may beat.
    tx_horizon, rx_horizon: each end's horizon in samples from the transmitter, -1 while both see each other.
    """

    spacing_km: float
    before_floor_db: FloatArray
    floor_db: FloatArray
    tx_horizon: FloatArray
    rx_horizon: FloatArray

    @property
    def loss_db(self) -> FloatArray:
        """Basic transmission loss at the median location."""
        return np.maximum(self.before_floor_db, self.floor_db)

    def loss_at_location_db(self, location_loss_db: float) -> FloatArray:
        """Basic transmission loss with location variability, [69].

        location_loss_db: what must be added so that the wanted percentage of places is served, 0 at 50 %.
        The floor applies to the sum; that is why both arrays are kept and no new sweep is needed.
        """
        return np.maximum(self.before_floor_db + location_loss_db, self.floor_db)


def sweep_profile(
    *,
    frequency_ghz: float,
    time_percent: float,
    spacing_km: float,
    ground_m: npt.ArrayLike,
    clutter_m: npt.ArrayLike = 0.0,
    zone: npt.ArrayLike = INLAND,
    tx_height_m: float,
    rx_heights_m: Sequence[float],
    polarization: Polarization,
    latitude_deg: float,
    azimuth_deg: float,
    delta_n: float = 45.0,
    n0: float = 325.0,
    receivers: Receivers | None = None,
) -> Radial:
    """Loss from the first sample of a profile to every other one, or to receivers anywhere along it.

    Source: Recommendation ITU-R P.1812-8 (09/2025). For every sample k of 4 or more the loss is that
    of `p1812.predict` for the profile 0..k with 50 % of locations. Samples 2 and 3 follow the same
    formulas with fewer points than the Recommendation asks for; 0 and 1 have free space. Below 0.25 km
    the Recommendation does not apply, and the figures are only there so that a map has no hole.

    frequency_ghz: 0.03 to 6. time_percent: 1 to 50. spacing_km: between samples, above 0.
    ground_m: shape (samples,), m above sea level. clutter_m: the same shape or one number, m above
    ground. zone: the same shape or one code: 1 sea, 3 coastal land, 4 inland.
    tx_height_m, rx_heights_m: above ground, 1 to 3000 m. polarization: "horizontal" or "vertical".
    latitude_deg, azimuth_deg: of the first sample, and the bearing of the radial clockwise from north;
    they give the latitude of each path's centre. delta_n: N-units/km, positive. n0: N-units.
    receivers: None for the samples themselves; otherwise the paths are those the module describes.

    The distances to the coast of the ducting model follow from the zones, see `coast_distances_km`.
    Raises a PropagationError naming what is out of range.
    """
    run = make_run(
        frequency_ghz=frequency_ghz,
        time_percent=time_percent,
        spacing_km=spacing_km,
        tx_height_m=tx_height_m,
        polarization=polarization,
        latitude_deg=latitude_deg,
        delta_n=delta_n,
        n0=n0,
    )
    ground = _checked_ground(ground_m, run.spacing_km)
    points = ground.size
    clutter = inputs.clutter_heights(clutter_m, points)
    zones = inputs.zones(zone, points)
    heights = rx_heights(rx_heights_m)
    azimuth = inputs.number("azimuth_deg", azimuth_deg)
    where = receivers if receivers is not None else _on_the_samples(ground, clutter, zones)
    zoned = bool((zones != INLAND).any() or (where.zone != INLAND).any() or (where.near_zone != INLAND).any())
    cluttered = bool(clutter.any() or where.near_clutter_m.any())
    shape = (heights.size, where.at.size)
    loss, floor, horizons = np.empty(shape), np.empty(shape), np.empty((2, *shape))
    sweep_radials(
        ground[np.newaxis],
        clutter[np.newaxis] if cluttered else np.empty((0, 0)),
        zones[np.newaxis].astype(np.uint8) if zoned else np.empty((0, 0), dtype=np.uint8),
        np.array([points - 1]),
        np.array([math.cos(math.radians(azimuth))]),
        np.array([0, where.at.size]),
        np.array(where.at, dtype=np.float64),
        np.stack((where.ground_m, where.near_ground_m, where.near_clutter_m)),
        np.stack((where.zone, where.near_zone)).astype(np.uint8),
        heights,
        pack(run),
        make_tables(run, points + 1, latitude_deg),
        loss,
        floor,
        horizons,
    )
    return Radial(run.spacing_km, loss, floor, horizons[0], horizons[1])


def _on_the_samples(ground: FloatArray, clutter: FloatArray, zones: IntArray) -> Receivers:
    before = np.maximum(np.arange(ground.size) - 1, 0)
    return Receivers(
        at=np.arange(ground.size, dtype=np.float64),
        ground_m=ground,
        near_ground_m=ground[before],
        near_clutter_m=clutter[before],
        zone=zones,
        near_zone=zones[before],
    )


def rx_heights(values: Sequence[float]) -> FloatArray:
    """Receiver heights above ground as an array, each 1 to 3000 m."""
    return np.array([inputs.antenna_height("rx_height_m", value) for value in values], dtype=np.float64)


def _checked_ground(ground_m: npt.ArrayLike, spacing_km: float) -> FloatArray:
    ground = np.array(ground_m, dtype=np.float64)
    if ground.ndim != 1 or ground.size < FEWEST_SAMPLES:
        raise errors.ProfileTooShortError(
            "ground_m",
            ground.size,
            f"one list of {FEWEST_SAMPLES} heights or more",
            f"ground_m must be one list of {FEWEST_SAMPLES} heights or more; its shape is {ground.shape}.",
        )
    length = spacing_km * (ground.size - 1)
    inputs.number_between(
        errors.PathLengthRangeError, "path length", length, (0.0, inputs.PATH_LENGTH_KM[1]), "km"
    )
    return inputs.ground_heights(ground, ground.size)


def coast_distances_km(zone: npt.ArrayLike, distance_km: npt.ArrayLike) -> tuple[float, float]:
    """Distance over land from either end of a path to the coast along it, d_ct and d_cr of [49], km.

    zone: codes of the points, shape (n,). distance_km: of the points from the first, ascending. The coast lies
    half-way between a land and a sea point; an end at sea has 0 km, and a path that never meets the
    sea has 500 km at both ends.
    """
    codes, km = np.asarray(zone), np.asarray(distance_km, dtype=np.float64)
    at_sea = np.flatnonzero(codes == SEA)
    if at_sea.size == 0:
        return _INFINITE_COAST_KM, _INFINITE_COAST_KM
    first, last = at_sea[0], at_sea[-1]
    tx_coast = 0.0 if first == 0 else 0.5 * (km[first - 1] + km[first])
    rx_coast = 0.0 if last == codes.size - 1 else km[-1] - 0.5 * (km[last] + km[last + 1])
    return float(tx_coast), float(rx_coast)


def warm_up() -> None:
    """Compile every kernel here, or load it from the disk cache, so that the first map does not wait."""
    sweep_profile(
        frequency_ghz=0.146,
        time_percent=50.0,
        spacing_km=0.1,
        ground_m=np.zeros(8),
        tx_height_m=10.0,
        rx_heights_m=(2.0,),
        polarization="vertical",
        latitude_deg=0.0,
        azimuth_deg=0.0,
    )
