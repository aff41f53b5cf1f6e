"""What came about at the bench, and what is left of a plan then."""
