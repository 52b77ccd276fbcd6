"""Outlines of what is reached, as GeoJSON.

RFC 7946 (August 2016): longitude before latitude and WGS 84 with no "crs" member (section 4), closed rings
with the outer one counterclockwise and holes clockwise (3.1.6), a bounding box (5), outlines cut at the 180
degree meridian (3.1.9).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, cast

import contourpy
import numpy as np
import numpy.typing as npt

from relays.coverage.rasters import LossRaster
from relays.propagation.terrain import Lattice
from relays.propagation.verdicts import VERDICT_CLASSES

#: Five decimals of a degree are about a metre.
DECIMALS = 5

Grid = npt.NDArray[np.float64]
Ring = list[list[float]]
Polygon = list[Ring]


def collection(raster: LossRaster, thresholds_db: Sequence[float], **properties: Any) -> dict[str, Any]:
    """A FeatureCollection with one MultiPolygon a verdict, the widest first so that the best lies on top.

    thresholds_db: the largest loss of each verdict but the last, best first. Each outline holds its verdict
    and every better one. A verdict reached nowhere is left out.
    """
    found = collection_of(raster.lattice, [raster.loss_db] * len(thresholds_db), thresholds_db, **properties)
    by_name = {_name(index): threshold for index, threshold in enumerate(thresholds_db)}
    for feature in found["features"]:
        feature["properties"]["largest_loss_db"] = round(by_name[feature["properties"]["verdict"]], 2)
    return found


def collection_of(
    lattice: Lattice,
    fields: Sequence[npt.NDArray[np.float32]],
    largest: Sequence[float],
    **properties: Any,
) -> dict[str, Any]:
    """The same where each verdict has a quantity of its own that must not exceed its largest value."""
    features: list[dict[str, Any]] = []
    for index in reversed(range(len(fields))):
        polygons = outlines(lattice, fields[index], largest[index])
        if polygons:
            geometry = {"type": "MultiPolygon", "coordinates": polygons}
            own = {"verdict": _name(index), **properties}
            features.append(
                {"type": "Feature", "bbox": _bbox(polygons), "properties": own, "geometry": geometry}
            )
    found: dict[str, Any] = {"type": "FeatureCollection", "features": features}
    if features:
        found["bbox"] = _around([feature["bbox"] for feature in features])
    return found


def _name(index: int) -> str:
    label = VERDICT_CLASSES[index].label
    return label if index == 0 else f"{label} or better"


def outlines(lattice: Lattice, loss_db: npt.NDArray[np.float32], largest_db: float) -> list[Polygon]:
    """Where the loss is at most so much: polygons of [longitude, latitude] rings.

    Between posts the loss is taken as linear. Ground of which nothing is known is outside.
    """
    polygons: list[Polygon] = []
    for longitude, values in _halves(lattice, loss_db):
        # South to north, so that the grid is right-handed and outer rings come out counterclockwise.
        generator = contourpy.contour_generator(
            x=longitude,
            y=lattice.latitude_deg[::-1],
            z=np.ma.masked_invalid(values[::-1]),
            corner_mask=True,
            fill_type=contourpy.FillType.OuterOffset,
        )
        filled = generator.filled(-np.inf, largest_db)
        points, offsets = cast(tuple[list[Grid], list[list[int]]], filled)
        for outline, starts in zip(points, offsets, strict=True):
            rings = [_ring(outline[first:last]) for first, last in pairwise(starts)]
            if rings[0]:
                polygons.append([rings[0], *(hole for hole in rings[1:] if hole)])
    return polygons


def _halves(lattice: Lattice, loss_db: npt.NDArray[np.float32]) -> list[tuple[Grid, Grid]]:
    """The raster west and east of the 180 degree meridian, each with its longitudes; one part as a rule."""
    longitude, values = lattice.longitude_deg, loss_db.astype(np.float64)
    if lattice.east_deg <= 180.0:
        return [(longitude, values)]
    at = (180.0 - lattice.west_deg) / lattice.longitude_step_deg
    last = int(np.floor(at))
    across = at - last
    seam = values[:, last] * (1.0 - across) + values[:, min(last + 1, lattice.columns - 1)] * across
    west = np.column_stack([values[:, : last + 1], seam]) if across else values[:, : last + 1]
    west_longitude = np.append(longitude[: last + 1], 180.0) if across else longitude[: last + 1]
    east = np.column_stack([seam, values[:, last + 1 :]])
    east_longitude = np.append(180.0, longitude[last + 1 :]) - 360.0
    return [(x, z) for x, z in ((west_longitude, west), (east_longitude, east)) if x.size > 1]


def _ring(points: Grid) -> Ring:
    """Closed and rounded, without repeated places; empty if nothing of it is left."""
    rounded = np.round(points, DECIMALS) + 0.0
    keep = np.append(True, np.any(np.diff(rounded, axis=0) != 0.0, axis=1))
    ring: Ring = rounded[keep].tolist()
    if len(ring) < 4 or ring[0] != ring[-1] or _twice_the_area(ring) == 0.0:
        return []
    return ring


def _twice_the_area(ring: Ring) -> float:
    x, y = np.array(ring).T
    x, y = x - x[0], y - y[0]
    return float(x[:-1] @ y[1:] - x[1:] @ y[:-1])


def _bbox(polygons: list[Polygon]) -> list[float]:
    """West, south, east, north. Outlines on both sides of 180 degrees: west is then the larger number."""
    parts = [np.array(polygon[0]) for polygon in polygons]
    boxes = [[*part.min(axis=0).tolist(), *part.max(axis=0).tolist()] for part in parts]
    return _around(boxes)


def _around(boxes: list[list[float]]) -> list[float]:
    table = np.array(boxes)
    south, north = float(table[:, 1].min()), float(table[:, 3].max())
    west, east = table[:, 0], table[:, 2]
    crosses = (east == 180.0).any() and (west == -180.0).any()
    turned = bool((west > east).any()) or (crosses and float(east.max() - west.min()) > 180.0)
    if turned:
        return [float(west[west > 0].min()), south, float(east[east < 0].max()), north]
    return [float(west.min()), south, float(east.max()), north]
