from relays.models.coverage import CoverageRun
from relays.models.paths import PathVerdict
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.models.terrain import TerrainTile

__all__ = ["CoverageRun", "PathVerdict", "Relay", "Site", "TerrainTile"]
