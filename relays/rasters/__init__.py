"""Raster files as people bring them: opened, checked, mended and rewritten as heights on WGS 84."""
