"""Where people live: rasters brought in, spread over the pixels of a map, and counted."""
