"""Coverage to take away: the raster of loss, a picture with its world file, outlines."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from rasterio.io import MemoryFile

from relays.coverage.rasters import LossRaster, transform
from relays.models import Relay
from relays.propagation.terrain import Lattice
from relays.propagation.verdicts import VERDICT_CLASSES
from relays.reach import contours
from relays.reach.areas import Verdicts, common_lattice, lattice_positions, together, verdicts_of
from relays.reach.thresholds import UNKNOWN, ClassArray, Reach

#: Red, green, blue and opacity of each verdict, best first; the map's colours on paper.
COLOURS = ((13, 88, 102, 200), (77, 155, 163, 190), (220, 165, 63, 180), (0, 0, 0, 0))
#: Ground of which nothing is known is grey, so that it does not pass for ground that is not reached.
UNKNOWN_COLOUR = (128, 128, 128, 110)
#: The ZIP format begins in 1980; a fixed date makes the same bytes every time.
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Words:
    """What an export says of itself."""

    relay: Relay
    radio: str
    method: str

    def properties(self, raster: LossRaster) -> dict[str, Any]:
        """For every feature of the outlines."""
        return {
            "relay": self.relay.name,
            "call_sign": self.relay.call_sign,
            "radio": self.radio,
            "antenna_height_m": raster.antenna_height_m,
            "receiver_height_m": raster.receiver_height_m,
            "method": self.method,
            "known_ground": raster.end_sentence or "known to the radius",
        }


def outlines(raster: LossRaster, reach: Reach, words: Words) -> bytes:
    """GeoJSON (RFC 7946) of where each verdict or a better one is reached."""
    found = contours.collection(raster, reach.thresholds_db(), **words.properties(raster))
    return json.dumps(found, separators=(",", ":"), ensure_ascii=False).encode()


def outlines_together(
    parts: Sequence[tuple[LossRaster, Reach]], relays: Sequence[str], radio: str, method: str
) -> bytes:
    """The same for several relays at once: where at least one of them reaches the verdict."""
    lattice = common_lattice([raster.lattice for raster, _ in parts])
    # How far the loss lies above what each verdict allows, of the best relay: 0 dB is the outline.
    excess_db = [
        np.fmin.reduce([nearest(raster, lattice) - its.thresholds_db()[index] for raster, its in parts])
        for index in range(len(VERDICT_CLASSES) - 1)
    ]
    properties = {"relays": list(relays), "radio": radio, "method": method}
    found = contours.collection_of(lattice, excess_db, [0.0] * len(excess_db), **properties)
    return json.dumps(found, separators=(",", ":"), ensure_ascii=False).encode()


def nearest(raster: LossRaster, lattice: Lattice) -> npt.NDArray[np.float32]:
    """The loss at the nearest post, on another lattice; NaN beyond."""
    row, column = lattice_positions(raster.lattice, lattice)
    rows = (row >= 0) & (row < raster.lattice.rows)
    columns = (column >= 0) & (column < raster.lattice.columns)
    found = np.full((lattice.rows, lattice.columns), np.nan, dtype=np.float32)
    found[np.ix_(rows, columns)] = raster.loss_db[np.ix_(row[rows], column[columns])]
    return found


def picture(raster: LossRaster, reach: Reach, words: Words) -> bytes:
    """A ZIP with a PNG of the verdicts, its world file (.pgw) and the legend in words."""
    found = verdicts_of(raster, reach)
    return _zipped(words.relay.slug, found, _legend(raster, reach, words))


def picture_together(
    parts: Sequence[tuple[LossRaster, Reach]], relays: Sequence[str], radio: str, method: str
) -> bytes:
    """The same for several relays at once: the best verdict of any of them at every place."""
    found = together([verdicts_of(raster, its) for raster, its in parts])
    lines = [f"The best of {', '.join(relays)}, with {radio}.", f"{method}; WGS 84 (EPSG:4326).", ""]
    for verdict, colour in zip(VERDICT_CLASSES, COLOURS[:-1], strict=False):
        lines.append(_colour_line(colour, verdict.label, verdict.meaning))
    lines += _CLOSING
    return _zipped("together", found, "\n".join(lines) + "\n")


def _zipped(stem: str, found: Verdicts, legend: str) -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in (
            (f"{stem}.png", png(rgba(found.classes), found.lattice)),
            (f"{stem}.pgw", world_file(found.lattice).encode()),
            (f"{stem}.txt", legend.encode()),
        ):
            archive.writestr(zipfile.ZipInfo(name, _ZIP_DATE), content)
    return written.getvalue()


def rgba(classes: ClassArray) -> npt.NDArray[np.uint8]:
    """Colours of a class array, shape (4, rows, columns); clear where nobody is heard, grey where nothing is known."""
    table = np.zeros((256, 4), dtype=np.uint8)
    table[: len(COLOURS)] = COLOURS
    table[UNKNOWN] = UNKNOWN_COLOUR
    return np.ascontiguousarray(np.moveaxis(table[classes], -1, 0))


def png(bands: npt.NDArray[np.uint8], lattice: Lattice) -> bytes:
    """An 8-bit PNG of (bands, rows, columns): grey, grey with opacity, colour, or colour with opacity."""
    count, rows, columns = bands.shape
    profile = {"driver": "PNG", "dtype": "uint8", "transform": transform(lattice)}
    with MemoryFile() as memory:
        with memory.open(count=count, height=rows, width=columns, **profile) as file:
            file.write(bands)
        return bytes(memory.read())


def world_file(lattice: Lattice) -> str:
    """The six lines of a world file: step east, two rotations, step south (negative), and the longitude and
    latitude of the centre of the pixel in the north-western corner (ESRI's format, as GDAL documents it)."""
    figures = (
        lattice.longitude_step_deg,
        0.0,
        0.0,
        -lattice.latitude_step_deg,
        lattice.west_deg,
        lattice.north_deg,
    )
    return "".join(f"{figure:.12f}\n" for figure in figures)


_CLOSING = (
    f"clear    {VERDICT_CLASSES[-1].label}",
    "grey     not known: beyond the radius, or no ground was imported there",
    "",
    "A prediction: try it on the air before you rely on it.",
)


def _colour_line(colour: tuple[int, int, int, int], label: str, meaning: str) -> str:
    red, green, blue, _ = colour
    return f"#{red:02x}{green:02x}{blue:02x}  {label}: {meaning}"


def _legend(raster: LossRaster, reach: Reach, words: Words) -> str:
    lines = [
        f"{words.relay.name}, {words.relay.call_sign}, with {words.radio}.",
        f"Relay antenna {raster.antenna_height_m:g} m, receiver {raster.receiver_height_m:g} m above the ground.",
        f"{words.method}; {raster.frequency_mhz:g} MHz; WGS 84 (EPSG:4326).",
        "",
    ]
    for verdict, colour, largest in zip(VERDICT_CLASSES, COLOURS, reach.thresholds_db(), strict=False):
        meaning = f"{verdict.meaning} (loss up to {largest:.1f} dB)"
        lines.append(_colour_line(colour, verdict.label, meaning))
    lines += _CLOSING[:2]
    if raster.end_sentence:
        lines += ["", raster.end_sentence]
    lines += _CLOSING[2:]
    return "\n".join(lines) + "\n"
