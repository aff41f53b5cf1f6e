"""Problems of a single sequencing dial: the cheapest walk through all lots."""
