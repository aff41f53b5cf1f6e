"""What an order costs at least: patterns of some dials, merged, and the search by them in plain Python."""
