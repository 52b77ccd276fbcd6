"""Coverage of relays: what is computed, the runs that compute it, their rasters, and what is read from them."""
