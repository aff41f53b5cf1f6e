"""Good orders soon: the first ones by going ahead, better ones by annealing."""
