"""Which boards meet and how: rings, shelves, legs and all square meetings, and the seats of each."""
