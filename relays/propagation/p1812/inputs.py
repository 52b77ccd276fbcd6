"""What the Recommendation accepts, checked once; every section after this trusts its arguments."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from relays.propagation import errors

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Polarization = Literal["horizontal", "vertical"]

SEA = 1
COASTAL_LAND = 3
INLAND = 4

FREQUENCY_GHZ = (0.03, 6.0)
TIME_PERCENT = (1.0, 50.0)
LOCATION_PERCENT = (1.0, 99.0)
PATH_LENGTH_KM = (0.25, 3000.0)
ANTENNA_HEIGHT_M = (1.0, 3000.0)
MINIMUM_POINTS = 5

# The Recommendation names no limits for these three. Ours are the lowest and highest dry land, the
# tallest building and the air of any place on Earth, each with room to spare; they catch void marks
# such as -32768 and 9999 and quantities put in the wrong place.
GROUND_HEIGHT_M = (-1000.0, 9000.0)
CLUTTER_HEIGHT_M = (0.0, 1000.0)
SURFACE_REFRACTIVITY = (200.0, 500.0)

#: The lapse rate at which the median effective Earth radius 157/(157 - delta_n) becomes infinite.
DUCTING_LAPSE_RATE = 157.0

_RECOMMENDATION = "Recommendation ITU-R P.1812-8"


@dataclass(frozen=True, slots=True)
class Path:
    """One checked path.

    Arrays of n + 1 points from the transmitter to the receiver; the ``from_`` arrays hold the n - 1
    interior points only, over which nearly every maximum in the Recommendation runs.
    """

    frequency_ghz: float
    wavelength_m: float
    time_percent: float
    location_percent: float
    location_sigma_db: float
    polarization: Polarization
    distance_km: FloatArray
    ground_m: FloatArray
    surface_m: FloatArray  # ground plus clutter, bare at both ends
    zone: IntArray
    length_km: float
    from_tx_km: FloatArray
    from_rx_km: FloatArray
    tx_height_m: float
    rx_height_m: float
    tx_amsl_m: float
    rx_amsl_m: float
    tx_latitude_deg: float
    tx_longitude_deg: float
    rx_latitude_deg: float
    rx_longitude_deg: float
    delta_n: float
    n0: float
    tx_coast_km: float
    rx_coast_km: float


def number(quantity: str, value: object) -> float:
    """The value as a finite float; NotANumberError or NotFiniteError otherwise."""
    try:
        if isinstance(value, (str, bytes)):
            raise TypeError
        result = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise errors.NotANumberError(
            quantity, value, "a number", f"{quantity} must be a number; {type(value).__name__} was given."
        ) from None
    if not math.isfinite(result):
        raise errors.NotFiniteError(
            quantity, value, "a finite number", f"{quantity} must be a finite number; {result} was given."
        )
    return result


def number_between(
    error: type[errors.PropagationError],
    quantity: str,
    value: object,
    limits: tuple[float, float],
    unit: str,
) -> float:
    """The value as a float inside the closed limits, else the given error."""
    result = number(quantity, value)
    low, high = limits
    if not low <= result <= high:
        allowed = f"{low:g} to {high:g} {unit}"
        raise error(
            quantity,
            value,
            allowed,
            f"{quantity} is {result:g} {unit}; {_RECOMMENDATION} covers {allowed}.",
        )
    return result


def distances(value: object) -> FloatArray:
    """Profile distances in km: one-dimensional, finite, from 0, strictly ascending, 5 points or more."""
    km = _array("distance_km", value)
    if km.ndim != 1:
        raise errors.ProfileShapeError(
            "distance_km",
            km.shape,
            "one list of distances",
            f"distance_km must be one list of distances; an array of {km.ndim} dimensions was given.",
        )
    if km.size < MINIMUM_POINTS:
        raise errors.ProfileTooShortError(
            "distance_km",
            km.size,
            f"{MINIMUM_POINTS} points or more",
            f"The profile has {km.size} points; at least {MINIMUM_POINTS} are needed.",
        )
    if km[0] != 0.0:
        raise errors.ProfileOrderError(
            "distance_km",
            float(km[0]),
            "0 km at the first point",
            f"The profile must start at 0 km, the transmitter; it starts at {km[0]:g} km.",
        )
    steps = np.diff(km)
    if not np.all(steps > 0):
        index = int(np.argmin(steps > 0)) + 1
        raise errors.ProfileOrderError(
            "distance_km",
            float(km[index]),
            "distances that ascend at every point",
            f"Profile distances must ascend; point {index} at {km[index]:g} km follows {km[index - 1]:g} km.",
        )
    _path_length(float(km[-1]))
    return km


def _path_length(length_km: float) -> None:
    least_km, most_km = PATH_LENGTH_KM
    if 0.0 < length_km < least_km:
        # No figure: one end may be a home.
        raise errors.PathLengthRangeError(
            "path length",
            length_km,
            f"{least_km:g} to {most_km:g} km",
            f"The two ends are less than {least_km:g} km apart; {_RECOMMENDATION} covers {least_km:g} to "
            f"{most_km:g} km. So near, try it on the air.",
        )
    number_between(errors.PathLengthRangeError, "path length", length_km, PATH_LENGTH_KM, "km")


def ground_heights(value: object, points: int) -> FloatArray:
    """Bare ground above sea level in m, one a point (a single height stands for the whole path)."""
    return _heights(errors.GroundHeightRangeError, "ground_m", value, points, GROUND_HEIGHT_M)


def clutter_heights(value: object, points: int) -> FloatArray:
    """Clutter above the ground in m, one a point (a single height stands for the whole path)."""
    return _heights(errors.ClutterHeightRangeError, "clutter_m", value, points, CLUTTER_HEIGHT_M)


def zones(value: object, points: int) -> IntArray:
    """Zone codes, one a point (a single code stands for the whole path)."""
    codes = _one_a_point("zone", value, points)
    bad = (codes != SEA) & (codes != COASTAL_LAND) & (codes != INLAND)
    if bad.any():
        index = int(np.argmax(bad))
        raise errors.ZoneCodeError(
            "zone",
            float(codes[index]),
            "1 (sea), 3 (coastal land) or 4 (inland)",
            f"zone is {codes[index]:g} at point {index}; it must be 1 (sea), 3 (coastal land) or 4 (inland).",
        )
    return codes.astype(np.int64)


def frequency(value: object) -> float:
    """The frequency in GHz."""
    return number_between(errors.FrequencyRangeError, "frequency_ghz", value, FREQUENCY_GHZ, "GHz")


def antenna_height(quantity: str, value: object) -> float:
    """An antenna height above ground in m."""
    return number_between(errors.AntennaHeightRangeError, quantity, value, ANTENNA_HEIGHT_M, "m")


def time_percent(value: object) -> float:
    """The percentage of time."""
    return number_between(errors.TimePercentRangeError, "time_percent", value, TIME_PERCENT, "%")


def location_percent(value: object) -> float:
    """The percentage of places."""
    return number_between(errors.LocationPercentRangeError, "location_percent", value, LOCATION_PERCENT, "%")


def location_sigma(value: object) -> float:
    """The standard deviation over places in dB."""
    return _not_negative(errors.LocationSigmaRangeError, "location_sigma_db", value, "dB")


def coast_distance(quantity: str, value: object, zone_there: int) -> float:
    """Distance over land to the sea in km; 0 for a terminal that stands in the sea zone."""
    result = _not_negative(errors.CoastDistanceRangeError, quantity, value, "km")
    return 0.0 if zone_there == SEA else result


def latitude(quantity: str, value: object) -> float:
    """A latitude in degrees."""
    return _coordinate(quantity, value, 90.0)


def longitude(quantity: str, value: object) -> float:
    """A longitude in degrees."""
    return _coordinate(quantity, value, 180.0)


def polarization(value: object) -> Polarization:
    """The polarization, spelled as the Recommendation does."""
    if isinstance(value, str) and value == "horizontal":
        return "horizontal"
    if isinstance(value, str) and value == "vertical":
        return "vertical"
    raise errors.PolarizationError(
        "polarization",
        value,
        '"horizontal" or "vertical"',
        f'polarization must be "horizontal" or "vertical"; {value!r} was given.',
    )


def lapse_rate(value: object) -> float:
    """The refractivity lapse rate in N-units/km, as the positive number the Recommendation's maps hold."""
    result = number("delta_n", value)
    if 0 <= result < DUCTING_LAPSE_RATE:
        return result
    allowed = f"0 or more and less than {DUCTING_LAPSE_RATE:g} N-units/km"
    reason = (
        "give the lapse rate as a positive number, 45 and not -45"
        if result < 0
        else "at 157 the median effective Earth radius is infinite"
    )
    raise errors.RefractivityRangeError(
        "delta_n", value, allowed, f"delta_n is {result:g} N-units/km; it must be {allowed} ({reason})."
    )


def surface_refractivity(value: object) -> float:
    """The sea-level surface refractivity in N-units."""
    result = number("n0", value)
    low, high = SURFACE_REFRACTIVITY
    if low <= result <= high:
        return result
    allowed = f"{low:g} to {high:g} N-units"
    raise errors.RefractivityRangeError(
        "n0", value, allowed, f"n0 is {result:g} N-units; it must be {allowed}, and is about 325 on average."
    )


def _not_negative(error: type[errors.PropagationError], quantity: str, value: object, unit: str) -> float:
    """The value as a float of 0 or more, else the given error."""
    result = number(quantity, value)
    if result < 0:
        raise error(
            quantity, value, f"0 {unit} or more", f"{quantity} is {result:g} {unit}; it cannot be negative."
        )
    return result


def _heights(
    error: type[errors.PropagationError],
    quantity: str,
    value: object,
    points: int,
    limits: tuple[float, float],
) -> FloatArray:
    """Heights in m, one a point (a single number stands for the whole path), inside the limits."""
    metres = _one_a_point(quantity, value, points)
    low, high = limits
    bad = (metres < low) | (metres > high)
    if bad.any():
        index = int(np.argmax(bad))
        allowed = f"{low:g} to {high:g} m"
        raise error(
            quantity,
            float(metres[index]),
            allowed,
            f"{quantity} is {metres[index]:g} m at point {index}; heights of {allowed} are accepted.",
        )
    return metres


def _coordinate(quantity: str, value: object, limit_deg: float) -> float:
    """A latitude or longitude in degrees; the number itself never enters the sentence."""
    result = number(quantity, value)
    if abs(result) <= limit_deg:
        return result
    allowed = f"-{limit_deg:g} to {limit_deg:g} degrees"
    raise errors.CoordinateRangeError(
        quantity, value, allowed, f"{quantity} is off the globe; it must be {allowed}. Are the two swapped?"
    )


def _array(quantity: str, value: object) -> FloatArray:
    try:
        given = np.asanyarray(value)
        # Text that spells a number and complex numbers would convert, and mean something else.
        if given.dtype.kind in "USc":
            raise TypeError
        result = np.array(given, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise errors.NotANumberError(
            quantity, value, "numbers", f"{quantity} must hold numbers only."
        ) from None
    if isinstance(given, np.ma.MaskedArray):
        # What lies under a mask is no height, however much it looks like one.
        result[np.ma.getmaskarray(given)] = np.nan
    finite = np.isfinite(result)
    if not finite.all():
        index = int(np.argmin(finite))
        raise errors.NotFiniteError(
            quantity,
            float(result.flat[index]),
            "finite numbers",
            f"{quantity} is {result.flat[index]} at point {index}; every point needs a finite number.",
        )
    return result


def _one_a_point(quantity: str, value: object, points: int) -> FloatArray:
    result = _array(quantity, value)
    if result.ndim == 0:
        return np.full(points, float(result))
    if result.shape != (points,):
        raise errors.ProfileShapeError(
            quantity,
            result.shape,
            f"{points} numbers, one for each distance",
            f"{quantity} has {result.size} numbers but distance_km has {points}; each point needs one.",
        )
    return result
