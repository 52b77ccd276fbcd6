"""Recommendation ITU-R P.1812-8 to every sample of a radial in one pass.

A radial is one line of equally spaced samples i = 0..n from a transmitter at i = 0. For every k the
path whose profile is the samples 0..k is a path of its own; computing each alone costs O(n^2).
Here everything the Recommendation asks of a profile is kept up to date while k advances: running
maxima, running sums, convex hulls for the tangents that depend on the receiver, and exact bounds
that tell when a term cannot matter. The loss is the one `p1812.predict` gives for the same path.

Source of the formulas: Recommendation ITU-R P.1812-8 (09/2025); numbers in square brackets are its
equations. Source of the structures: upper convex hulls by the monotone chain, the textbook
algorithm; the rest is argued where it stands.

Coordinates. Distances along the radial are counted in samples, so that x = i. With
q = 500 Delta^2 / a_p (Delta the spacing in km, a_p the effective Earth radius in km) the Earth's
bulge between samples 0 and k is q i (k - i), and the curved height y_i = h_i - q i^2 no longer knows
k: that is what lets maxima and hulls grow with k. Slopes are metres per sample.

All kernels are plain functions on arrays and on named tuples of numbers and arrays. They live in this
one file because the compiler's cache on disk does not notice a change in another file. No fast-math
flag is set: results depend neither on the compiler's mood nor on the number of threads.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
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
_FEWEST_SAMPLES = 3


_ENTRY: dict[str, Any] = {"nogil": True, "cache": True}
# Pieces of an entry allocate nothing and keep no array, so they need no counting of references, which
# would take longer than the arithmetic and make threads wait for each other.
_PIECE: dict[str, Any] = {"nogil": True, "_nrt": False}


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
    bulge_m: float  # q: the bulge over sample i of k is q i (k - i)
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


# Rows of the workspace of one radial, each as long as the radial.
_GROUND = 0  # bare heights
_CURVED = 1  # with clutter, curved by the median Earth radius
_ANOMALOUS = 2  # with clutter, curved by the anomalous radius
_BARE = 3  # bare, curved by the median radius; the same as _CURVED, and unused, without clutter
_BLOCKS = 4  # then three rows: block maxima of the first three profiles
_HULLS = 7  # then three rows (vertex, slope, intercept) for the upper hull of each profile
_ROWS = 19

# The running state of one radial: what grows with k ...
_STEEPEST = 0  # greatest slope from the transmitter: with clutter, median radius
_STEEPEST_ANOMALOUS = 1  # with clutter, anomalous radius
_STEEPEST_BARE = 2  # bare, median radius
_STEEPEST_FLAT = 3  # bare, no curvature
_SUM_1 = 4  # the sums of [85] and [86], heights above the first sample
_SUM_2 = 5
_LAND_START = 6  # in samples; starts are -1 while no run of that zone is open
_LAND_LONGEST = 7
_INLAND_START = 8
_INLAND_LONGEST = 9
_SEA_START = 10
_SEA_TOTAL = 11
_FIRST_SEA = 12
_LAST_SEA = 13
# ... and what it says of the prefix 0..k. Read back from memory on purpose: were these plain
# variables, the compiler would take the powers and logarithms made of them out of the branches
# that guard them, since they are the same for every receiver height.
_DISTANCE_KM = 14
_SEA_FRACTION = 15  # omega
_LAND_KM = 16  # d_tm
_INLAND_KM = 17  # d_lm
_TX_COAST_KM = 18  # d_ct
_RX_COAST_KM = 19  # d_cr
_LOG_BETA0 = 20
_TIME_FACTOR = 21  # F_i, [40a]; 1 when p is below beta0; 0 at 50 % over land, see `_describe`
_STATE = 22

# The counts of one radial: sizes of the four hulls, then the transmitter's horizon.
_HORIZON = 4
_COUNTS = 5

# Rows of the tables: what depends on the number of samples alone, looked up instead of computed. One
# array of rows, as the workspace below: a slice of an array inside a kernel costs more than its use.
_WEIGHT = 0  # 1 / sqrt(i); nu needs weight[i] weight[k - i]
_WEIGHT_REVERSED = 1  # the same read backwards, so that both ascend together
_ROOT = 2  # sqrt(k)
_DISTANCE_DB = 3  # 20 log(k Delta)
_DEPTH_DB = 4  # 2.6 [1 - exp(-0.1 k Delta)], [9]
_DISTANCE_BLEND = 5  # F_k, [58]
_INLAND_BOUND_DB = 6  # least A_p of [53] for any duct over a path all inland
_ANY_BOUND_DB = 7  # the same over any mixture of zones


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
    spacing = inputs.number_between(
        errors.SampleSpacingRangeError, "spacing_km", spacing_km, SPACING_KM, "km"
    )
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
    """Tables for k = 0..samples, shape (8, samples + 1); the rows are named above."""
    k = np.arange(samples + 1, dtype=np.float64)
    k[0] = 1.0  # sample 0 is never looked up; this keeps its logarithm and its root finite
    distance = k * run.spacing_km
    weight = 1.0 / np.sqrt(k)
    return np.stack(
        (
            weight,
            weight[::-1],
            np.sqrt(k),
            20.0 * np.log10(distance),
            2.6 * -np.expm1(-0.1 * distance),
            1.0 / (1.0 + np.exp(np.minimum(0.15 * (distance - 20.0), 700.0))),
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
    """[28] for an Earth radius smaller than `earth` by shrink^3... see `_spherical`."""
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
# Slope and intercept of a vertex belong to the edge that arrives there from the vertex before, so
# vertex 0 has none. Slopes descend along the hull.


@_inlined
def _hull_push(i: int, profile: int, work: FloatArray, sizes: IntArray) -> None:
    """Add sample i of a profile at the right end of its hull. Amortised O(1)."""
    vertex = _HULLS + 3 * profile
    slope, intercept = vertex + 1, vertex + 2
    size = sizes[profile]
    y = work[profile, i]
    while size > 1 and y >= work[intercept, size - 1] + work[slope, size - 1] * i:
        size -= 1
    work[vertex, size] = i
    if size > 0:
        before = int(work[vertex, size - 1])
        m = (y - work[profile, before]) / (i - before)
        work[slope, size] = m
        work[intercept, size] = y - m * i
    sizes[profile] = size + 1


@_inlined
def _hull_tangent(x: int, y: float, profile: int, work: FloatArray, sizes: IntArray) -> int:
    """The sample that the steepest line back from (x, y) touches; x right of the whole hull.

    Among equals the last. Extended to x the edges descend in height, so a binary search finds the
    first that passes below the point.
    """
    vertex = _HULLS + 3 * profile
    slope, intercept = vertex + 1, vertex + 2
    low = 1
    high = sizes[profile]
    while low < high:
        middle = (low + high) >> 1
        if y > work[intercept, middle] + work[slope, middle] * x:
            high = middle
        else:
            low = middle + 1
    return int(work[vertex, low - 1])


@_inlined
def _hull_support(steepness: float, profile: int, work: FloatArray, sizes: IntArray) -> int:
    """The sample with the greatest y - steepness x."""
    vertex = _HULLS + 3 * profile
    low = 1
    high = sizes[profile]
    while low < high:
        middle = (low + high) >> 1
        if work[vertex + 1, middle] < steepness:
            high = middle
        else:
            low = middle + 1
    return int(work[vertex, low - 1])


@_inlined
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
    first: int,
    last: int,
    k: int,
    profile: int,
    tx_m: float,
    slope: float,
    best: float,
    tables: FloatArray,
    work: FloatArray,
) -> float:
    """Largest of best and (y_i - ray) / sqrt(i (k - i)) for i = first..last."""
    shift = tables.shape[1] - 1 - k
    for i in range(first, last + 1):
        above = work[profile, i] - tx_m - slope * i
        best = max(best, above * tables[_WEIGHT, i] * tables[_WEIGHT_REVERSED, shift + i])
    return best


@_inlined
def _block_bound(
    first: int, last: int, k: int, greatest: float, tx_m: float, slope: float, tables: FloatArray
) -> float:
    """No sample of the block comes closer to the ray than this, in the measure of `_scan_clearance`.

    Valid while the ray clears the block (bracket below 0): then the smallest weight is the bound.
    """
    bracket = greatest - tx_m - min(slope * first, slope * last)
    if bracket >= 0.0:
        return math.inf
    if 2 * last <= k:
        return float(bracket * tables[_WEIGHT, last] * tables[_WEIGHT, k - last])
    if 2 * first >= k:
        return float(bracket * tables[_WEIGHT, first] * tables[_WEIGHT, k - first])
    return bracket * 2.0 / k


@_inlined
def _least_clearance(
    k: int, profile: int, tx_m: float, slope: float, best: float, tables: FloatArray, work: FloatArray
) -> float:
    """The largest nu of [15] over the interior points, without its constant factor, or `best`.

    The point that maximises nu need not be a vertex of the hull, so the samples are scanned; on long
    radials from the receiver backwards, by blocks whose bound may rule them out.
    """
    if k < _SCAN_IN_BLOCKS_FROM:
        return _scan_clearance(1, k - 1, k, profile, tx_m, slope, best, tables, work)
    complete = k // _BLOCK
    best = _scan_clearance(complete * _BLOCK, k - 1, k, profile, tx_m, slope, best, tables, work)
    for b in range(complete - 1, -1, -1):
        first = max(1, b * _BLOCK)
        last = b * _BLOCK + _BLOCK - 1
        greatest = work[_BLOCKS + profile, b]
        if _block_bound(first, last, k, greatest, tx_m, slope, tables) > best:
            best = _scan_clearance(first, last, k, profile, tx_m, slope, best, tables, work)
    return best


@_inlined
def _edge_nu(k: int, rise: float, ahead: float, behind: float, excess: float, factor: float) -> float:
    """nu of the Bullington point, [18] and [19]; 0 at exact grazing.

    rise: receiver above transmitter; ahead, behind: the two steepest slopes; excess: the first of them
    above the direct ray; factor: sqrt(0.002 / (lambda Delta)) sqrt(k).
    """
    both = ahead + behind
    if both <= 0.0:
        return 0.0
    x = (rise + behind * k) / both
    if x <= 0.0 or x >= k:
        return 0.0
    return factor * excess * math.sqrt(x / (k - x))


@_inlined
def _actual_bullington(
    k: int,
    tx_m: float,
    rx_m: float,
    steepest: float,
    profile: int,
    earth: Earth,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
    sizes: IntArray,
) -> float:
    """Bullington loss of the terrain with its clutter, [13] to [21].

    profile: the curved one with clutter; steepest: its greatest slope from the transmitter.
    """
    curved_rx = rx_m - earth.bulge_m * k * k
    ray = (curved_rx - tx_m) / k
    factor = run.nu_factor * tables[_ROOT, k]
    if steepest < ray:
        threshold = _NO_LOSS_NU / factor
        best = _least_clearance(k, profile, tx_m, ray, threshold, tables, work)
        if best <= threshold:
            return 0.0
        return _bullington(best * factor, k * run.spacing_km)
    at = _hull_tangent(k, curved_rx, profile, work, sizes)
    behind = (work[profile, at] - curved_rx) / (k - at)
    nu = _edge_nu(k, curved_rx - tx_m, steepest, behind, steepest - ray, factor)
    return _bullington(nu, k * run.spacing_km)


@_inlined
def _least_dip(k: int, height_m: float, root_m: float, earth: Earth) -> float:
    """Least of q i + height / i over the samples 1..k-1: how far the smooth Earth falls away.

    Convex in i, so the best sample is a neighbour of the continuous minimum sqrt(height / q).
    """
    i = min(int(root_m * earth.per_root_bulge), k - 1)
    if i < 1:
        return earth.bulge_m + height_m
    dip = earth.bulge_m * i + height_m / i
    if i < k - 1:
        dip = min(dip, earth.bulge_m * (i + 1) + height_m / (i + 1))
    return dip


@_inlined
def _smooth_clearance(i: int, k: int, tx_m: float, rx_m: float, earth: Earth, tables: FloatArray) -> float:
    """nu of [15] over the smooth Earth at sample i, without its constant factor."""
    gap = earth.bulge_m * i * (k - i) - (tx_m * (k - i) + rx_m * i) / k
    return float(gap * tables[_WEIGHT, i] * tables[_WEIGHT, k - i])


@_inlined
def _least_smooth_clearance(k: int, tx_m: float, rx_m: float, earth: Earth, tables: FloatArray) -> float:
    """Greatest of `_smooth_clearance` over the samples 1..k-1 by binary search.

    With i/k = 1/(1 + exp(-2u)) and all values negative (line of sight) nu is strictly concave in u,
    so it has one maximum; the signs of its derivative put it between the middle of the path and
    the point that divides it as the heights do.
    """
    divide = k * tx_m / (tx_m + rx_m)
    low = max(1, min(k - 1, int(min(0.5 * k, divide))))
    high = max(1, min(k - 1, int(max(0.5 * k, divide)) + 1))
    while low < high:
        middle = (low + high) >> 1
        here = _smooth_clearance(middle, k, tx_m, rx_m, earth, tables)
        if _smooth_clearance(middle + 1, k, tx_m, rx_m, earth, tables) > here:
            low = middle + 1
        else:
            high = middle
    return _smooth_clearance(low, k, tx_m, rx_m, earth, tables)


@_inlined
def _smooth_bullington(
    k: int,
    tx_m: float,
    rx_m: float,
    tx_root: float,
    rx_root: float,
    earth: Earth,
    run: Run,
    tables: FloatArray,
) -> float:
    """Bullington loss of the smooth Earth on the grid of samples, without a loop over them.

    Heights are the effective ones of [37]; tx_root, rx_root their square roots.
    """
    ray = (rx_m - tx_m) / k
    factor = run.nu_factor * tables[_ROOT, k]
    ahead = earth.bulge_m * k - _least_dip(k, tx_m, tx_root, earth)
    if ahead < ray:
        nu = _least_smooth_clearance(k, tx_m, rx_m, earth, tables) * factor
        if nu <= _NO_LOSS_NU:
            return 0.0
        return _bullington(nu, k * run.spacing_km)
    behind = earth.bulge_m * k - _least_dip(k, rx_m, rx_root, earth)
    nu = _edge_nu(k, rx_m - tx_m, ahead, behind, ahead - ray, factor)
    return _bullington(nu, k * run.spacing_km)


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

    beta never exceeds beta0, and beta0 is greatest at the lowest latitude the path centre can have
    (and over the sea, unless the path is all inland). The minimum over 12 decades of beta is found on
    a grid; 2 dB are taken off for what lies between its points.
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


class Path(NamedTuple):
    """The path from sample 0 to one receiver, as the ducting model and the combination see it."""

    k: int
    distance_km: float
    tx_top_m: float  # antennas above sea level
    rx_top_m: float
    tx_horizon: int  # l_t and l_r; -1 while in sight, where only the ducting model wants them
    rx_horizon: int
    tx_angle_mrad: float
    rx_angle_mrad: float
    tx_fitted_m: float  # least-squares surface at both ends, [87] and [88]
    rx_fitted_m: float
    free_space_db: float
    sight_db: float  # L_b0p, [10]
    depth_db: float  # what [9] multiplies with the logarithm of the time percentage


@_inlined
def _duct_bound(path: Path, state: FloatArray, run: Run, tables: FloatArray) -> float:
    """A bound below L_ba of [46] that needs neither the roughness nor beta."""
    d = path.distance_km
    angle = 1000.0 * d / run.median.radius_km
    bound = run.coupling_db
    if state[_SEA_FRACTION] > 0.0:
        bound += tables[_ANY_BOUND_DB, path.k]
        if state[_SEA_FRACTION] >= 0.75:
            bound -= 12.0  # [49] and [49a] can give at most 6 dB each
    elif state[_INLAND_KM] >= d:
        bound += tables[_INLAND_BOUND_DB, path.k]
    else:
        bound += tables[_ANY_BOUND_DB, path.k]
    if path.tx_horizon < 0:
        angle += min(path.tx_angle_mrad, 0.0) + min(path.rx_angle_mrad, 0.0)
        return float(bound + tables[_DISTANCE_DB, path.k] + run.per_mrad_db * angle)
    near = 0.1 * path.tx_horizon * run.spacing_km
    far = 0.1 * (path.k - path.rx_horizon) * run.spacing_km
    angle += min(path.tx_angle_mrad, near) + min(path.rx_angle_mrad, far)
    excess = max(path.tx_angle_mrad - near, 0.0) + max(path.rx_angle_mrad - far, 0.0)
    apart = path.tx_horizon + path.k - path.rx_horizon
    bound += 0.264 * run.cube_root_f * excess
    return float(bound + tables[_DISTANCE_DB, apart] + run.per_mrad_db * angle)


@_inlined
def _closest_to_ray(path: Path, run: Run, work: FloatArray) -> int:
    """The last interior sample with the greatest nu over bare terrain, section 6.3 of the text in sight.

    Terms in the order the general implementation has them: on symmetric terrain two samples tie
    to the last bit, and any other order would break the tie another way.
    """
    d = path.distance_km
    bend = 500.0 / run.median.radius_km
    most = -math.inf
    at = 1
    for i in range(1, path.k):
        ahead = i * run.spacing_km
        behind = d - ahead
        both = ahead * behind
        ray = (path.tx_top_m * behind + path.rx_top_m * ahead) / d
        above = work[_GROUND, i] + bend * both - ray
        nu = above * math.sqrt(0.002 * d / (run.wavelength_m * both))
        if nu >= most:
            most = nu
            at = i
    return at


@_inlined
def _roughness(first: int, last: int, start_m: float, slope: float, work: FloatArray) -> float:
    """h_m of [95]: greatest height above the smooth surface start_m + slope i, samples first..last."""
    most = -math.inf
    i = first
    while i <= last:
        if i % _BLOCK == 0 and i + _BLOCK - 1 <= last and i > 0:
            end = i + _BLOCK - 1
            if work[_BLOCKS + _GROUND, i // _BLOCK] - start_m - min(slope * i, slope * end) <= most:
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
    path: Path,
    state: FloatArray,
    tau: float,
    log_beta0: float,
    between_km: float,
    first: int,
    last: int,
    run: Run,
    work: FloatArray,
) -> float:
    """log beta of [54] to [56]."""
    d = state[_DISTANCE_KM]
    start = min(path.tx_fitted_m, work[_GROUND, 0])
    end = min(path.rx_fitted_m, work[_GROUND, path.k])
    rough = _roughness(first, last, start, (end - start) / path.k, work)
    log_beta = log_beta0
    if rough > 10.0:
        log_beta -= 4.6e-5 * (rough - 10.0) * (43.0 + 6.0 * min(between_km, 40.0)) * _PER_LN10
    roots = math.sqrt(path.tx_top_m - start) + math.sqrt(path.rx_top_m - end)
    base = 500.0 / run.median.radius_km * d * d / (roots * roots)
    if base > 1.0:
        alpha = max(-0.6 - 3.5e-9 * d**3.1 * tau, -3.4)
        log_beta += alpha * _log10(base)
    return log_beta


@_part
def _duct_loss(path: Path, state: FloatArray, cos_azimuth: float, run: Run, work: FloatArray) -> float:
    """L_ba of [46] to [56], exactly."""
    d = state[_DISTANCE_KM]
    first = path.tx_horizon
    last = path.rx_horizon
    if first < 0:
        first = _closest_to_ray(path, run, work)
        last = first
    near_km = first * run.spacing_km
    far_km = (path.k - last) * run.spacing_km
    tau = _inland_weight(state[_INLAND_KM])
    log_beta0 = state[_LOG_BETA0]
    if run.is_median:  # not needed elsewhere at 50 %, so not computed before
        latitude = _centre_latitude(d, cos_azimuth, run)
        log_beta0 = _log_anomalous_percent(latitude, state[_LAND_KM], tau)
    log_beta = _duct_log_percent(path, state, tau, log_beta0, d - near_km - far_km, first, last, run, work)
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
    return low if gap > 65.0 else low - 5.0 * _PER_LN10 * math.log1p(math.exp(-0.2 * _LN10 * gap))


@_inlined
def _with_ducting(
    path: Path,
    state: FloatArray,
    diffracted_db: float,
    cos_azimuth: float,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
) -> float:
    """L_bda of [60] and [61]. The exact ducting loss is computed only where its bound lets it matter."""
    bound = _duct_bound(path, state, run, tables)
    if bound >= diffracted_db or _smaller_smoothly(bound, path.sight_db) >= diffracted_db:
        return diffracted_db
    duct = _duct_loss(path, state, cos_azimuth, run, work)
    least = _smaller_smoothly(duct, path.sight_db)
    if least > diffracted_db:
        return diffracted_db
    return float(least + (diffracted_db - least) * tables[_DISTANCE_BLEND, path.k])


@_inlined
def _combine(
    path: Path,
    state: FloatArray,
    median_db: float,
    anomalous_db: float,
    cos_azimuth: float,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
) -> float:
    """L_bc of [63] from both diffraction losses L_d of [39]."""
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
    either = _with_ducting(path, state, diffracted, cos_azimuth, run, tables, work)
    angle = 1000.0 * path.distance_km / run.median.radius_km + path.tx_angle_mrad + path.rx_angle_mrad
    blend = 16.0 * (angle - 0.3)
    if blend < 60.0:  # beyond, F_j of [57] is below 1e-26
        either += (least - either) / (1.0 + math.exp(blend))
    scatter = run.scatter_db + tables[_DISTANCE_DB, path.k] + 0.573 * angle
    return _power_sum(scatter, either)


# ----------------------------------------------------------------------------------------------
# 7. One radial
# ----------------------------------------------------------------------------------------------


@_part
def _advance_zones(k: int, zone: int, state: FloatArray) -> None:
    """Take sample k into the zone statistics of section 3.

    A run that closes gets the half step towards its successor; the run that holds sample k, where
    the profile ends, does not.
    """
    land = zone in (INLAND, COASTAL_LAND)
    if land and state[_LAND_START] < 0:
        state[_LAND_START] = max(k - 0.5, 0.0)
    elif not land and state[_LAND_START] >= 0:
        state[_LAND_LONGEST] = max(state[_LAND_LONGEST], k - 0.5 - state[_LAND_START])
        state[_LAND_START] = -1
    inland = zone == INLAND
    if inland and state[_INLAND_START] < 0:
        state[_INLAND_START] = max(k - 0.5, 0.0)
    elif not inland and state[_INLAND_START] >= 0:
        state[_INLAND_LONGEST] = max(state[_INLAND_LONGEST], k - 0.5 - state[_INLAND_START])
        state[_INLAND_START] = -1
    sea = zone == SEA
    if sea:
        state[_LAST_SEA] = k
        if state[_FIRST_SEA] < 0:
            state[_FIRST_SEA] = k
        if state[_SEA_START] < 0:
            state[_SEA_START] = max(k - 0.5, 0.0)
    elif state[_SEA_START] >= 0:
        state[_SEA_TOTAL] += k - 0.5 - state[_SEA_START]
        state[_SEA_START] = -1


@_part
def _anomalous_time(
    distance_km: float, land_km: float, inland_km: float, cos_azimuth: float, run: Run
) -> tuple[float, float]:
    """log beta0 and F_i of [40a]."""
    latitude = _centre_latitude(distance_km, cos_azimuth, run)
    log_beta0 = _log_anomalous_percent(latitude, land_km, _inland_weight(inland_km))
    beta0 = 10.0**log_beta0
    if run.time_percent <= beta0:
        return log_beta0, 1.0
    return log_beta0, run.time_deviate / _inverse_normal(0.01 * beta0)


@_inlined
def _describe(k: int, zoned: bool, state: FloatArray, cos_azimuth: float, run: Run) -> None:
    """Zone figures of the prefix 0..k, and what the time percentage makes of them.

    At 50 % the approximate normal deviate leaves F_i at some 1e-9 instead of 0. Over land that moves
    the loss by less than 1e-8 dB and is left out; over the sea, where [59] takes the diffraction away,
    it can reach 1e-6 dB.
    """
    d = k * run.spacing_km
    state[_DISTANCE_KM] = d
    state[_SEA_FRACTION] = 0.0
    state[_LAND_KM] = d
    state[_INLAND_KM] = d
    state[_TX_COAST_KM] = _INFINITE_COAST_KM
    state[_RX_COAST_KM] = _INFINITE_COAST_KM
    if zoned:
        open_land = k - state[_LAND_START] if state[_LAND_START] >= 0 else 0.0
        open_inland = k - state[_INLAND_START] if state[_INLAND_START] >= 0 else 0.0
        open_sea = k - state[_SEA_START] if state[_SEA_START] >= 0 else 0.0
        state[_LAND_KM] = max(state[_LAND_LONGEST], open_land) * run.spacing_km
        state[_INLAND_KM] = max(state[_INLAND_LONGEST], open_inland) * run.spacing_km
        state[_SEA_FRACTION] = (state[_SEA_TOTAL] + open_sea) / k
        if state[_FIRST_SEA] >= 0:
            state[_TX_COAST_KM] = max(state[_FIRST_SEA] - 0.5, 0.0) * run.spacing_km
            state[_RX_COAST_KM] = max(k - state[_LAST_SEA] - 0.5, 0.0) * run.spacing_km
    if not run.is_median or state[_SEA_FRACTION] > 0.0:
        log_beta0, factor = _anomalous_time(d, state[_LAND_KM], state[_INLAND_KM], cos_azimuth, run)
        state[_LOG_BETA0] = log_beta0
        state[_TIME_FACTOR] = factor


@_part
def _prepare(
    n: int,
    ground: FloatArray,
    clutter: FloatArray,
    run: Run,
    work: FloatArray,
    state: FloatArray,
    counts: IntArray,
) -> None:
    """Profiles and block maxima of a radial, and every running quantity at its start."""
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
    state[_STEEPEST] = -math.inf
    state[_STEEPEST_ANOMALOUS] = -math.inf
    state[_STEEPEST_BARE] = -math.inf
    state[_STEEPEST_FLAT] = -math.inf
    state[_LAND_START] = -1.0
    state[_INLAND_START] = -1.0
    state[_SEA_START] = -1.0
    state[_FIRST_SEA] = -1.0
    state[_LAST_SEA] = -1.0
    counts[:] = 0


@_inlined
def _advance(k: int, bare: int, run: Run, work: FloatArray, state: FloatArray, counts: IntArray) -> None:
    """Move on to receiver k: sample k - 1 becomes interior, sample k enters the sums."""
    origin = work[_GROUND, 0]
    here, before = work[_GROUND, k] - origin, work[_GROUND, k - 1] - origin
    state[_SUM_1] += here + before
    state[_SUM_2] += here * (3 * k - 1) + before * (3 * k - 2)
    i = k - 1
    if i < 1:
        return
    tx_top = origin + run.tx_height_m
    state[_STEEPEST] = max(state[_STEEPEST], (work[_CURVED, i] - tx_top) / i)
    bare_slope = (work[bare, i] - tx_top) / i
    if bare_slope > state[_STEEPEST_BARE]:
        state[_STEEPEST_BARE] = bare_slope
        counts[_HORIZON] = i
    state[_STEEPEST_FLAT] = max(state[_STEEPEST_FLAT], (work[_GROUND, i] - tx_top) / i)
    _hull_push(i, _CURVED, work, counts)
    _hull_push(i, _GROUND, work, counts)
    if bare != _CURVED:
        _hull_push(i, _BARE, work, counts)
    if not run.is_median:
        slope = (work[_ANOMALOUS, i] - tx_top) / i
        state[_STEEPEST_ANOMALOUS] = max(state[_STEEPEST_ANOMALOUS], slope)
        _hull_push(i, _ANOMALOUS, work, counts)


@_inlined
def _effective_heights(
    path: Path, work: FloatArray, state: FloatArray, counts: IntArray
) -> tuple[float, float]:
    """Antennas above the smooth surface of the diffraction model, [89] to [91] and [37].

    The surface is lowered only where something stands above the straight line between the antennas,
    and that is so exactly where the flat profile is somewhere steeper than the line.
    """
    tx_top, rx_top, k = path.tx_top_m, path.rx_top_m, path.k
    tx_fitted, rx_fitted = path.tx_fitted_m, path.rx_fitted_m
    line = (rx_top - tx_top) / k
    ahead = state[_STEEPEST_FLAT] - line
    if ahead > 0.0:
        top = _hull_support(line, _GROUND, work, counts)
        obstruction = work[_GROUND, top] - line * top - tx_top
        at = _hull_tangent(k, rx_top, _GROUND, work, counts)
        behind = (work[_GROUND, at] - rx_top) / (k - at) + line
        if obstruction > 0.0 and behind > 0.0:
            tx_fitted -= obstruction * ahead / (ahead + behind)
            rx_fitted -= obstruction * behind / (ahead + behind)
    return tx_top - min(tx_fitted, work[_GROUND, 0]), rx_top - min(rx_fitted, work[_GROUND, k])


@_inlined
def _delta_bullington(
    path: Path,
    tx_m: float,
    rx_m: float,
    sea_fraction: float,
    steepest: float,
    profile: int,
    earth: Earth,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
    sizes: IntArray,
) -> float:
    """L_d of [39] for one effective Earth radius; tx_m, rx_m the effective heights."""
    actual = _actual_bullington(
        path.k, path.tx_top_m, path.rx_top_m, steepest, profile, earth, run, tables, work, sizes
    )
    tx_root, rx_root = math.sqrt(tx_m), math.sqrt(rx_m)
    sphere = _spherical(
        path.distance_km, tx_m, rx_m, tx_root + rx_root, sea_fraction, earth, run.wavelength_m
    )
    if sphere <= 0.0:
        return actual
    smooth = _smooth_bullington(path.k, tx_m, rx_m, tx_root, rx_root, earth, run, tables)
    return actual + max(sphere - smooth, 0.0)


@_inlined
def _see(
    k: int,
    rx_height: float,
    bare: int,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
    state: FloatArray,
    counts: IntArray,
) -> Path:
    """Horizons, path type, fitted surface and line-of-sight losses, sections 6 and 7."""
    d = k * run.spacing_km
    origin = work[_GROUND, 0]
    tx_top, rx_top = origin + run.tx_height_m, work[_GROUND, k] + rx_height
    curved_rx = rx_top - run.median.bulge_m * k * k
    ray = (curved_rx - tx_top) / k
    tx_at, rx_at, apart = -1, -1, k
    ahead, behind = ray, -ray
    if state[_STEEPEST_BARE] > ray:
        tx_at = counts[_HORIZON]
        rx_at = _hull_tangent(k, curved_rx, bare, work, counts)
        ahead = state[_STEEPEST_BARE]
        behind = (work[bare, rx_at] - curved_rx) / (k - rx_at)
        apart = tx_at + k - rx_at
    per_sample = 0.001 / run.spacing_km
    sum_1, sum_2 = state[_SUM_1], state[_SUM_2]
    drop = 0.001 * (tx_top - rx_top)
    free = run.free_space_db + 10.0 * _log10(d * d + drop * drop)
    depth = tables[_DEPTH_DB, apart]
    return Path(
        k,
        d,
        tx_top,
        rx_top,
        tx_at,
        rx_at,
        _atan_mrad(ahead * per_sample),
        _atan_mrad(behind * per_sample - d / run.median.radius_km),
        origin + (2.0 * k * sum_1 - sum_2) / (k * k),
        origin + (sum_2 - k * sum_1) / (k * k),
        free,
        free + depth * run.log_time,
        depth,
    )


@_inlined
def _loss_to_receiver(
    k: int,
    rx_height: float,
    bare: int,
    cos_azimuth: float,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
    state: FloatArray,
    counts: IntArray,
) -> tuple[float, float, int, int]:
    """Loss before location variability and floor, the floor L_b0p, and both horizons' samples."""
    path = _see(k, rx_height, bare, run, tables, work, state, counts)
    tx_m, rx_m = _effective_heights(path, work, state, counts)
    sea = state[_SEA_FRACTION]
    median, anomalous = 0.0, 0.0
    if state[_TIME_FACTOR] < 1.0:
        steepest = state[_STEEPEST]
        median = _delta_bullington(
            path, tx_m, rx_m, sea, steepest, _CURVED, run.median, run, tables, work, counts
        )
    if not run.is_median:
        steepest = state[_STEEPEST_ANOMALOUS]
        anomalous = _delta_bullington(
            path, tx_m, rx_m, sea, steepest, _ANOMALOUS, run.anomalous, run, tables, work, counts
        )
    loss = _combine(path, state, median, anomalous, cos_azimuth, run, tables, work)
    return loss, path.sight_db, path.tx_horizon, path.rx_horizon


@_part
def _sweep_radial(
    n: int,
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    cos_azimuth: float,
    rx_heights: FloatArray,
    run: Run,
    tables: FloatArray,
    work: FloatArray,
    state: FloatArray,
    counts: IntArray,
    loss: FloatArray,
    floor: FloatArray,
    horizons: npt.NDArray[np.int32],
) -> None:
    """Losses to samples 0..n of one radial, for every receiver height.

    ground, clutter, zones: at least n + 1 samples; clutter and zones of length 0 mean none and inland.
    loss, floor: (heights, samples); horizons: (2, heights, samples), or no heights if not wanted.
    """
    bare = _BARE if clutter.shape[0] > 0 else _CURVED
    zoned = zones.shape[0] > 0
    _prepare(n, ground, clutter, run, work, state, counts)
    if zoned:
        _advance_zones(0, zones[0], state)
    for k in range(1, n + 1):
        _advance(k, bare, run, work, state, counts)
        if zoned:
            _advance_zones(k, zones[k], state)
        if k < 2:
            _next_door(rx_heights, run, work, loss, floor, horizons)
            continue
        _describe(k, zoned, state, cos_azimuth, run)
        for r in range(rx_heights.shape[0]):
            a, b, tx_at, rx_at = _loss_to_receiver(
                k, rx_heights[r], bare, cos_azimuth, run, tables, work, state, counts
            )
            loss[r, k] = a
            floor[r, k] = b
            if horizons.shape[1] > 0:
                horizons[0, r, k] = tx_at
                horizons[1, r, k] = rx_at


@_part
def _next_door(
    rx_heights: FloatArray,
    run: Run,
    work: FloatArray,
    loss: FloatArray,
    floor: FloatArray,
    horizons: npt.NDArray[np.int32],
) -> None:
    """Samples 0 and 1 have nothing between: free space at one spacing. Far inside 0.25 km anyway,
    where the Recommendation begins."""
    for r in range(rx_heights.shape[0]):
        drop = 0.001 * (work[_GROUND, 0] + run.tx_height_m - work[_GROUND, 1] - rx_heights[r])
        free = run.free_space_db + 10.0 * _log10(run.spacing_km**2 + drop * drop)
        for k in range(2):
            loss[r, k] = free
            floor[r, k] = free
            if horizons.shape[1] > 0:
                horizons[0, r, k] = -1
                horizons[1, r, k] = -1


# ----------------------------------------------------------------------------------------------
# 8. Many radials, and one from outside
# ----------------------------------------------------------------------------------------------


@_entry
def sweep_block(
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    last: IntArray,
    cos_azimuth: FloatArray,
    rx_heights: FloatArray,
    constants: FloatArray,
    tables: FloatArray,
    loss: npt.NDArray[np.float32],
    floor: npt.NDArray[np.float32],
    horizons: npt.NDArray[np.int32],
) -> None:
    """Sweep several radials one after another; what one thread does in one go.

    ground: (radials, samples); clutter, zones: likewise, or (0, 0) for none and all inland.
    last: (radials,) the last sample of each radial that has ground; what lies beyond becomes NaN, and a
    radial with fewer than two samples is NaN throughout.
    cos_azimuth: (radials,) cosine of the bearing at the transmitter, clockwise from north.
    loss: (heights, radials, samples) basic transmission loss at the median location, not below its
    floor; floor: the same shape or no heights; horizons: (2, heights, radials, samples) or no heights.
    """
    run = _unpack(constants)
    samples = ground.shape[1]
    heights = rx_heights.shape[0]
    work = np.empty((_ROWS, samples))
    state = np.empty(_STATE)
    counts = np.empty(_COUNTS, np.int64)
    row_loss = np.empty((heights, samples))
    row_floor = np.empty((heights, samples))
    row_horizons = np.empty((2, horizons.shape[1], samples), np.int32)
    for j in range(ground.shape[0]):
        n = last[j] if last[j] >= 1 else -1
        if n >= 1:
            _sweep_radial(
                n,
                ground[j],
                clutter[j] if clutter.shape[0] > 0 else clutter[:0].ravel(),
                zones[j] if zones.shape[0] > 0 else zones[:0].ravel(),
                cos_azimuth[j],
                rx_heights,
                run,
                tables,
                work,
                state,
                counts,
                row_loss,
                row_floor,
                row_horizons,
            )
        for r in range(heights):
            for k in range(n + 1):
                loss[r, j, k] = max(row_loss[r, k], row_floor[r, k])
            loss[r, j, n + 1 :] = np.nan
            if floor.shape[0] > 0:
                for k in range(n + 1):
                    floor[r, j, k] = row_floor[r, k]
                floor[r, j, n + 1 :] = np.nan
            if horizons.shape[1] > 0:
                for end in range(2):
                    for k in range(n + 1):
                        horizons[end, r, j, k] = row_horizons[end, r, k]
                    horizons[end, r, j, n + 1 :] = -1


@_entry
def _sweep_single(
    ground: FloatArray,
    clutter: FloatArray,
    zones: ByteArray,
    cos_azimuth: float,
    rx_heights: FloatArray,
    constants: FloatArray,
    tables: FloatArray,
    loss: FloatArray,
    floor: FloatArray,
    horizons: npt.NDArray[np.int32],
) -> None:
    """One radial in double precision; arrays as `_sweep_radial` has them."""
    n = ground.shape[0] - 1
    work = np.empty((_ROWS, n + 1))
    state = np.empty(_STATE)
    counts = np.empty(_COUNTS, np.int64)
    run = _unpack(constants)
    _sweep_radial(
        n, ground, clutter, zones, cos_azimuth, rx_heights, run, tables, work, state, counts,
        loss, floor, horizons,
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------
# 9. The way in from Python
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Radial:
    """What a sweep knows about every sample of a radial. Arrays have shape (heights, samples).

    before_floor_db: loss for the wanted percentage of time at the median location, before the last
    step of the Recommendation. floor_db: line-of-sight loss for that time, which no path may beat.
    tx_horizon, rx_horizon: sample number of each end's horizon, -1 while both see each other.
    """

    spacing_km: float
    before_floor_db: FloatArray
    floor_db: FloatArray
    tx_horizon: npt.NDArray[np.int32]
    rx_horizon: npt.NDArray[np.int32]

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
) -> Radial:
    """Loss from the first sample of a profile to every other one, for several receiver heights.

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
    loss = np.empty((heights.size, points))
    floor = np.empty((heights.size, points))
    horizons = np.empty((2, heights.size, points), dtype=np.int32)
    _sweep_single(
        ground,
        clutter if clutter.any() else np.empty(0),
        zones.astype(np.uint8) if (zones != INLAND).any() else np.empty(0, dtype=np.uint8),
        math.cos(math.radians(azimuth)),
        heights,
        pack(run),
        make_tables(run, points - 1, latitude_deg),
        loss,
        floor,
        horizons,
    )
    return Radial(run.spacing_km, loss, floor, horizons[0], horizons[1])


def rx_heights(values: Sequence[float]) -> FloatArray:
    """Receiver heights above ground as an array, each 1 to 3000 m."""
    return np.array([inputs.antenna_height("rx_height_m", value) for value in values], dtype=np.float64)


def _checked_ground(ground_m: npt.ArrayLike, spacing_km: float) -> FloatArray:
    ground = np.array(ground_m, dtype=np.float64)
    if ground.ndim != 1 or ground.size < _FEWEST_SAMPLES:
        raise errors.ProfileTooShortError(
            "ground_m",
            ground.size,
            f"one list of {_FEWEST_SAMPLES} heights or more",
            f"ground_m must be one list of {_FEWEST_SAMPLES} heights or more; its shape is {ground.shape}.",
        )
    length = spacing_km * (ground.size - 1)
    inputs.number_between(
        errors.PathLengthRangeError, "path length", length, (0.0, inputs.PATH_LENGTH_KM[1]), "km"
    )
    return inputs.ground_heights(ground, ground.size)


def coast_distances_km(zone: npt.ArrayLike, spacing_km: float) -> tuple[float, float]:
    """Distance over land from either end of a path to the coast along it, d_ct and d_cr of [49], km.

    zone: codes at equal spacing. The coast lies half-way between a land and a sea sample; an end at
    sea has 0 km, and a path that never meets the sea has 500 km at both ends.
    """
    at_sea = np.flatnonzero(np.asarray(zone) == SEA)
    if at_sea.size == 0:
        return _INFINITE_COAST_KM, _INFINITE_COAST_KM
    last = np.asarray(zone).size - 1
    return (
        max(float(at_sea[0]) - 0.5, 0.0) * spacing_km,
        max(float(last - at_sea[-1]) - 0.5, 0.0) * spacing_km,
    )


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
