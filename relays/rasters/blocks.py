"""The checksums inside a GeoTIFF compressed by deflate, which the TIFF library reads past.

It stops at the last byte it wants, just before the checksum, so that damage comes out as plausible ground.
A file without compression has no checksum at all: there only heights out of range can give damage away.
"""

from __future__ import annotations

import math
import zlib
from pathlib import Path

import rasterio

from relays.rasters.refusal import RasterRefused


def check(name: str, path: Path, dataset: rasterio.DatasetReader) -> None:
    """Refuse a raster with a block that is not a whole, sound deflate stream."""
    if dataset.profile.get("compress") != "deflate":
        return
    rows, columns = dataset.block_shapes[0]
    with path.open("rb") as file:
        for down in range(math.ceil(dataset.height / rows)):
            for across in range(math.ceil(dataset.width / columns)):
                offset = dataset.get_tag_item(f"BLOCK_OFFSET_{across}_{down}", "TIFF", bidx=1)
                size = dataset.get_tag_item(f"BLOCK_SIZE_{across}_{down}", "TIFF", bidx=1)
                # A block that was never written has neither.
                if offset is None or size is None:
                    continue
                file.seek(int(offset))
                if not _is_sound(file.read(int(size))):
                    raise RasterRefused(
                        name,
                        f"{name} is damaged at row {down * rows:,} of {dataset.height:,}, "
                        "where a checksum is wrong; get it again from where it came.",
                    )


def _is_sound(block: bytes) -> bool:
    stream = zlib.decompressobj()
    try:
        stream.decompress(block)
    except zlib.error:
        return False
    return stream.eof
