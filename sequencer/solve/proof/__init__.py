"""Plans and bounds by turns until they meet: which patterns are merged, the compiled search by them, two cores."""
