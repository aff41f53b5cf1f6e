"""Drawings computed from the geometry in a plan, as vector paths: plain values that the page and the SVG export set.

`figure` holds the values (pens, paths, arcs, words), `dimension` puts sizes on them, `solid` and `projection` find
what of a board is seen and what is hidden; `part`, `section`, `dial`, `marking` and `timeline` each draw one kind of
picture, `svg` writes any of them as a file.
"""
