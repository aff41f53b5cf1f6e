"""What cannot matter taken out of a problem first, exactly, and put back into the plan."""
