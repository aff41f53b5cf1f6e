"""A problem without choices laid out: lots and dials on bit sets, and what each move leads to, exactly."""
