"""Where things are: the local frame, lines across a block, heights from a raster. No files, no wires."""
