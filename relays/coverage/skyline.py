"""How steeply a receiver looks up to its horizon on the way to the relay, at every post of a raster.

Walls take more from a ray that comes in steeply (P.2109), so a map for indoors needs the angle of every place.
The sweep knows how far away the horizon is; this finds how high it stands there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from relays.coverage.sweeps import Prepared
from relays.propagation.geodesy import EARTH_RADIUS_KM
from relays.propagation.optics import effective_radius_km
from relays.propagation.raster import Coverage, SingleArray

Grid = npt.NDArray[np.float64]


def elevation_deg(prepared: Prepared, coverage: Coverage, band: int) -> SingleArray:
    """Angle above the horizontal, degrees, of the lattice's shape; NaN where the loss is not known.

    Source: Recommendation ITU-R P.1812-8 (09/2025), the elevation angles of its path profile analysis:
    atan[(h_i - h)/d_i - d_i/(2 a_e)] to the horizon, or to the relay's antenna where they see one another.
    The sweep gives the horizon's distance along the nearer of two radials; the ground is read on the way from
    the place itself, so near horizons may be a degree off. Walls take 0.2 dB a degree.
    """
    assert coverage.horizon_km is not None, "the sweep was asked for horizons"
    request, lattice = prepared.request, coverage.lattice
    away_km = coverage.horizon_km[1, band]
    antenna_m = coverage.relay_ground_m + request.antenna_height_m
    radius_km = effective_radius_km(request.delta_n)
    found = np.full(away_km.shape, np.nan, dtype=np.float32)
    relay = _unit(np.array([request.latitude_deg]), np.array([request.longitude_deg]))[:, 0]
    ground = prepared.grid.at(*np.broadcast_arrays(lattice.latitude_deg[:, None], lattice.longitude_deg))
    for row, latitude in enumerate(lattice.latitude_deg):
        here = _unit(np.full(lattice.columns, latitude), lattice.longitude_deg)
        arc = np.arctan2(np.linalg.norm(np.cross(here.T, relay), axis=1), relay @ here)
        whole_km = np.maximum(arc * EARTH_RADIUS_KM, 1e-3)
        blocked = ~np.isnan(away_km[row])
        to_km = np.where(blocked, np.minimum(away_km[row], whole_km), whole_km)
        to_km = np.maximum(to_km, 1e-3)
        horizon_m = _heights_on_the_way(prepared, here, relay, arc, to_km / whole_km)
        top_m = np.where(blocked, horizon_m, antenna_m)
        own_m = ground[row] + request.receiver_heights_m[band]
        rise = (top_m - own_m) / (1000.0 * to_km) - to_km / (2.0 * radius_km)
        found[row] = np.degrees(np.arctan(rise))
    found[np.isnan(coverage.loss_db[band])] = np.nan
    return found


def _unit(latitude_deg: Grid, longitude_deg: Grid) -> Grid:
    """Unit vectors on the sphere, shape (3, n)."""
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    return np.array(
        [np.cos(latitude) * np.cos(longitude), np.cos(latitude) * np.sin(longitude), np.sin(latitude)]
    )


def _heights_on_the_way(prepared: Prepared, here: Grid, relay: Grid, arc: Grid, share: Grid) -> Grid:
    """Ground height at a share of the great circle from each place to the relay, m; NaN where not known."""
    sine = np.maximum(np.sin(arc), 1e-12)
    there = (np.sin((1.0 - share) * arc) * here + np.sin(share * arc) * relay[:, None]) / sine
    latitude = np.degrees(np.arctan2(there[2], np.hypot(there[0], there[1])))
    longitude = np.degrees(np.arctan2(there[1], there[0]))
    return np.asarray(prepared.grid.at(latitude, longitude), dtype=np.float64)
