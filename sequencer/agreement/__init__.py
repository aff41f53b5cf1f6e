"""Whether what a plan says agrees with itself: one read from its file is held to its own word."""
