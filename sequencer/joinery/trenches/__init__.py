"""Grooves, rebates and housings: how they are cut, and what they leave of a board."""
