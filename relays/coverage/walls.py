"""What walls take more from a ray that comes in at an angle, over a whole raster."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from relays.coverage.rasters import LossRaster
from relays.propagation.entry import building_entry_median_db

_ANGLES_DEG = np.linspace(0.0, 90.0, 361)


def entered(raster: LossRaster, building: str | None) -> LossRaster:
    """The raster with what the walls of a building take beyond their loss at 0 degrees; itself outdoors.

    What they take at 0 degrees is a plain number of the budget, and so is the spread from building to building,
    which hardly depends on the angle. Source: Recommendation ITU-R P.2109-2, see `propagation.entry`. Raises
    UnknownBuildingError.
    """
    if building is None:
        return raster
    assert raster.elevation_deg is not None, "asked for with the raster"
    more_db = np.interp(np.abs(raster.elevation_deg), _ANGLES_DEG, _more_db(building, raster.frequency_mhz))
    # An angle that is not known is taken as level.
    loss_db = raster.loss_db + np.nan_to_num(more_db).astype(np.float32)
    return replace(raster, loss_db=loss_db)


@lru_cache(maxsize=32)
def _more_db(building: str, frequency_mhz: float) -> npt.NDArray[np.float64]:
    level_db = building_entry_median_db(frequency_mhz, building)
    return np.array(
        [building_entry_median_db(frequency_mhz, building, float(angle)) - level_db for angle in _ANGLES_DEG]
    )
