"""The table that turns classes of land cover into heights of trees and buildings."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from relays.rasters.refusal import RasterRefused

HEIGHT_M = (0.0, 200.0)
_COLUMNS = ["class", "height_m"]


@dataclass(frozen=True, slots=True)
class ClassHeights:
    """Height in m for each class number; `file_name` is where they were read, for messages."""

    file_name: str
    classes: npt.NDArray[np.int64]
    height_m: npt.NDArray[np.float32]

    def heights(self, raster_name: str, classes: npt.NDArray[np.generic]) -> npt.NDArray[np.float32]:
        """The heights of an array of classes, m; RasterRefused for a class that is not in the table."""
        at = np.searchsorted(self.classes, classes)
        at_known = np.minimum(at, self.classes.size - 1)
        missing = self.classes[at_known] != classes
        if missing.any():
            names = ", ".join(f"{value:g}" for value in np.unique(classes[missing])[:5])
            raise RasterRefused(
                raster_name,
                f"{raster_name} holds classes that {self.file_name} does not list: {names}; "
                "add a line for each.",
            )
        return self.height_m[at_known]


def read(path: Path) -> ClassHeights:
    """Read a CSV file with the columns class and height_m; RasterRefused names the line that is wrong."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RasterRefused(
            path.name, f"{path.name} cannot be read as a table of classes; give a CSV file in UTF-8."
        ) from error
    rows = csv.reader(text.splitlines())
    header = [cell.strip().lower() for cell in next(rows, [])]
    if header != _COLUMNS:
        raise RasterRefused(path.name, f"{path.name} must begin with the line class,height_m.")
    table: dict[int, float] = {}
    for line, row in enumerate(rows, start=2):
        if not any(cell.strip() for cell in row):
            continue
        number, height_m = _row(path.name, line, row)
        if number in table:
            raise RasterRefused(
                path.name, f"{path.name}, line {line}: class {number} is already given above."
            )
        table[number] = height_m
    if not table:
        raise RasterRefused(path.name, f"{path.name} lists no classes; give a line for each class.")
    numbers = sorted(table)
    return ClassHeights(
        path.name,
        np.array(numbers, dtype=np.int64),
        np.array([table[number] for number in numbers], dtype=np.float32),
    )


def _row(file_name: str, line: int, row: list[str]) -> tuple[int, float]:
    try:
        number, height_m = int(row[0]), float(row[1])
        if len(row) != len(_COLUMNS) or not HEIGHT_M[0] <= height_m <= HEIGHT_M[1]:
            raise ValueError
    except (ValueError, IndexError):
        raise RasterRefused(
            file_name,
            f"{file_name}, line {line}: write a whole class number and a height of "
            f"{HEIGHT_M[0]:g} to {HEIGHT_M[1]:g} m, such as 41,18.",
        ) from None
    return number, height_m
