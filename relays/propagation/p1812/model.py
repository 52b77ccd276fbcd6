"""One path from its description to its loss."""

from __future__ import annotations

import numpy.typing as npt

from relays.propagation.p1812 import inputs, profile_analysis, troposcatter
from relays.propagation.p1812.climate import analyse
from relays.propagation.p1812.combine import combine
from relays.propagation.p1812.diffraction import diffraction
from relays.propagation.p1812.ducting import ducting
from relays.propagation.p1812.free_space import line_of_sight
from relays.propagation.p1812.inputs import Path, Polarization
from relays.propagation.p1812.result import Prediction, assemble

#: The Recommendation writes 0.2998 / f(GHz), not the exact speed of light.
_WAVELENGTH_M_GHZ = 0.2998


def predict(
    *,
    frequency_ghz: float,
    time_percent: float,
    distance_km: npt.ArrayLike,
    ground_m: npt.ArrayLike,
    clutter_m: npt.ArrayLike,
    zone: npt.ArrayLike,
    tx_height_m: float,
    rx_height_m: float,
    polarization: Polarization,
    tx_latitude_deg: float,
    tx_longitude_deg: float,
    rx_latitude_deg: float,
    rx_longitude_deg: float,
    delta_n: float = 45.0,
    n0: float = 325.0,
    location_percent: float = 50.0,
    location_sigma_db: float = 0.0,
    tx_coast_km: float = 500.0,
    rx_coast_km: float = 500.0,
) -> Prediction:
    """Basic transmission loss not exceeded for a share of time and places, outdoors.

    Source: Recommendation ITU-R P.1812-8 (09/2025), with terminal heights above bare ground
    and the smooth-path Bullington loss on the profile's own points.

    frequency_ghz: 0.03 to 6.
    time_percent: 1 to 50, the percentage of an average year for which the loss is not exceeded.
    distance_km: shape (n + 1,), n >= 4, from 0 at the transmitter, strictly ascending to 0.25 .. 3000 km.
    ground_m: shape (n + 1,), bare ground above sea level.
    clutter_m: shape (n + 1,), height of what stands on the ground; the two end values are not used.
    zone: shape (n + 1,), 1 sea, 3 coastal land, 4 inland. Each of these three may be one number for all.
    tx_height_m, rx_height_m: antennas above ground, 1 to 3000.
    polarization: "horizontal" or "vertical".
    latitudes, longitudes: of the terminals, degrees; only the latitude of the path's centre matters.
    delta_n: median lapse rate of refractivity in the lowest km, N-units/km, a positive number below 157.
    n0: sea-level surface refractivity, N-units.
    location_percent: 1 to 99, the percentage of places in the receiver's square (50: the median place).
    location_sigma_db: standard deviation over those places, dB; see sigma_location_db.
    tx_coast_km, rx_coast_km: over land along the path from each terminal to the sea, km; 500 where the
        path meets none. A terminal at sea counts as 0.

    Outside these ranges a PropagationError (relays.propagation.errors) names the quantity, the value and
    what is allowed.
    """
    km = inputs.distances(distance_km)
    ground = inputs.ground_heights(ground_m, km.size)
    clutter = inputs.clutter_heights(clutter_m, km.size)
    zones = inputs.zones(zone, km.size)
    frequency = inputs.frequency(frequency_ghz)
    tx_height = inputs.antenna_height("tx_height_m", tx_height_m)
    rx_height = inputs.antenna_height("rx_height_m", rx_height_m)
    surface = ground + clutter
    surface[0], surface[-1] = ground[0], ground[-1]
    return _predict_checked(
        Path(
            frequency_ghz=frequency,
            wavelength_m=_WAVELENGTH_M_GHZ / frequency,
            time_percent=inputs.time_percent(time_percent),
            location_percent=inputs.location_percent(location_percent),
            location_sigma_db=inputs.location_sigma(location_sigma_db),
            polarization=inputs.polarization(polarization),
            distance_km=km,
            ground_m=ground,
            surface_m=surface,
            zone=zones,
            length_km=float(km[-1]),
            from_tx_km=km[1:-1],
            from_rx_km=km[-1] - km[1:-1],
            tx_height_m=tx_height,
            rx_height_m=rx_height,
            tx_amsl_m=float(ground[0]) + tx_height,
            rx_amsl_m=float(ground[-1]) + rx_height,
            tx_latitude_deg=inputs.latitude("tx_latitude_deg", tx_latitude_deg),
            tx_longitude_deg=inputs.longitude("tx_longitude_deg", tx_longitude_deg),
            rx_latitude_deg=inputs.latitude("rx_latitude_deg", rx_latitude_deg),
            rx_longitude_deg=inputs.longitude("rx_longitude_deg", rx_longitude_deg),
            delta_n=inputs.lapse_rate(delta_n),
            n0=inputs.surface_refractivity(n0),
            tx_coast_km=inputs.coast_distance("tx_coast_km", tx_coast_km, int(zones[0])),
            rx_coast_km=inputs.coast_distance("rx_coast_km", rx_coast_km, int(zones[-1])),
        )
    )


def _predict_checked(path: Path) -> Prediction:
    climate = analyse(path)
    surface = profile_analysis.smooth_surface(path)
    seen = profile_analysis.horizons(path, climate.median_radius_km)
    obstacle = profile_analysis.dominating_obstacle(path, climate.median_radius_km)
    sight = line_of_sight(path, climate, seen)
    diffracted = diffraction(path, climate, surface, sight)
    scatter_db = troposcatter.loss_db(path, seen)
    ducted = ducting(path, climate, surface, seen)
    combined = combine(path, climate, seen, sight, diffracted, scatter_db, ducted.loss_db)
    return assemble(path, climate, surface, seen, obstacle, sight, diffracted, scatter_db, ducted, combined)
