"""Where the mortises of a joint go and how deep: rows of slots clear of what crosses them."""
