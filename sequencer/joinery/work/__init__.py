"""The operations that make a joint or board: milled, sawn, plunged, glued."""
