"""What a radio gets out of a raster of loss: verdicts, areas, outlines, budgets for the map, one place at a time."""
