"""Loss around relays: what is computed, the runs that compute it, their rasters, and answers on the spot."""
