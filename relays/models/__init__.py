from relays.models.paths import PathVerdict
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.models.terrain import TerrainTile

__all__ = ["PathVerdict", "Relay", "Site", "TerrainTile"]
