"""Whether the whole thing goes together: every board in its place, and held there."""
