from relays.models.coverage import CoverageRun
from relays.models.outages import Outage
from relays.models.paths import PathVerdict
from relays.models.population import PopulationRaster
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.models.terrain import TerrainTile
from relays.models.upkeep import KeyHolder, Reading, ReadingKind, Renewal, UpkeepRecord, UpkeepTask

__all__ = [
    "CoverageRun",
    "KeyHolder",
    "Outage",
    "PathVerdict",
    "PopulationRaster",
    "Reading",
    "ReadingKind",
    "Relay",
    "Renewal",
    "Site",
    "TerrainTile",
    "UpkeepRecord",
    "UpkeepTask",
]
