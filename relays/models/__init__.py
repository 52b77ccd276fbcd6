from relays.models.coverage import CoverageRun
from relays.models.keys import KeyHolder
from relays.models.outages import Outage
from relays.models.papers import Renewal
from relays.models.paths import PathVerdict
from relays.models.population import PopulationRaster
from relays.models.readings import Reading, ReadingKind
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.models.terrain import TerrainTile
from relays.models.upkeep import UpkeepRecord, UpkeepTask

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
