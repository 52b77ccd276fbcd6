"""Elevation tiles of one degree in .hgt files, bare or in a zip.

The format has no header. Its name gives the south-western post (N36W085.hgt: 36 north, 85 west), its size
gives the number of posts; they are big-endian 16-bit metres from the north-west corner, -32768 where there
is none, and the outermost rows and columns lie on whole degrees, shared with the neighbouring tiles.
Source: Shuttle Radar Topography Mission documentation (SRTM Topo, Jet Propulsion Laboratory and USGS), which
also gives the datum: WGS 84, heights above the EGM96 geoid.
"""

from __future__ import annotations

import re
import shutil
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from relays.rasters.refusal import RasterRefused

DATUM = "WGS 84; heights above the EGM96 geoid, as the .hgt format lays down"

_NAME = re.compile(r"([NS])(\d{2})([EW])(\d{3})\.HGT", re.IGNORECASE)
# Bytes of the sizes there are: 3 arc seconds, 1, and 1 by 2 north of 50 degrees.
_SIZES = {2 * rows * columns: (rows, columns) for rows, columns in ((1201, 1201), (3601, 3601), (3601, 1801))}
_MOST_MEMBERS = 1000
_CHUNK = 1 << 20


def is_hgt_name(name: str) -> bool:
    return name.lower().endswith(".hgt")


def check(path: Path) -> None:
    """Refuse a bare .hgt file whose name or size cannot be right."""
    _check_name(path.name, path.name)
    _check_size(path.name, path.name, path.stat().st_size)


def unpack(path: Path, folder: Path) -> Path:
    """Write the one .hgt file of a zip into a folder, under its own bare name, and return where.

    Nothing but that file is unpacked and no path in the zip is followed. A zip bomb comes to nothing: the
    size that the zip states must be one the format has, and no more than that is read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            member = _only_tile(path.name, archive)
            name = PurePosixPath(member.filename).name
            _check_name(path.name, name)
            _check_size(path.name, name, member.file_size)
            target = folder / name
            with archive.open(member) as packed, target.open("wb") as unpacked:
                shutil.copyfileobj(packed, unpacked, _CHUNK)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError, RuntimeError) as error:
        raise RasterRefused(
            path.name, f"{path.name} is a damaged zip file ({error}); get it again from where it came."
        ) from error
    except OSError as error:
        raise RasterRefused(path.name, f"{path.name} cannot be unpacked: {error.strerror}.") from error
    return target


def _only_tile(given: str, archive: zipfile.ZipFile) -> zipfile.ZipInfo:
    members = archive.infolist()
    if len(members) > _MOST_MEMBERS:
        raise RasterRefused(
            given, f"{given} holds {len(members)} files; a zipped .hgt holds one .hgt file and little else."
        )
    # "._" files are what one desktop system leaves beside each real one.
    tiles = [
        member
        for member in members
        if is_hgt_name(member.filename) and not PurePosixPath(member.filename).name.startswith("._")
    ]
    if not tiles:
        raise RasterRefused(
            given,
            f"{given} holds no .hgt file; a GeoTIFF must be taken out of its zip before it is imported.",
        )
    if len(tiles) > 1:
        raise RasterRefused(
            given, f"{given} holds {len(tiles)} .hgt files; unpack it and import them one by one."
        )
    tile = tiles[0]
    parts = PurePosixPath(tile.filename.replace("\\", "/"))
    if parts.is_absolute() or ".." in parts.parts or ":" in tile.filename:
        raise RasterRefused(
            given, f"{given} is not opened: the .hgt file in it is to be written outside its own folder."
        )
    if tile.flag_bits & 1:
        raise RasterRefused(given, f"{given} is locked with a password; unpack it and import the .hgt file.")
    return tile


def _check_name(given: str, name: str) -> None:
    found = _NAME.fullmatch(name)
    if found and int(found[2]) <= 90 and int(found[4]) <= 180:
        return
    inside = "" if given == name else f", inside {given},"
    raise RasterRefused(
        given,
        f"{name}{inside} is not named as a .hgt file must be: its name is its place, N36W085.hgt "
        "for the tile whose south-western corner is 36 north and 85 west.",
    )


def _check_size(given: str, name: str, size: int) -> None:
    if size in _SIZES:
        return
    wanted = ", ".join(f"{bytes_:,} ({rows} × {columns})" for bytes_, (rows, columns) in _SIZES.items())
    inside = "" if given == name else f", inside {given},"
    raise RasterRefused(
        given,
        f"{name}{inside} is {size:,} bytes; a .hgt file has one of these sizes: {wanted}; "
        "it is cut short or is something else.",
    )
