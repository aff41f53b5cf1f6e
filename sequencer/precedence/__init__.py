"""Which operation comes before which: the rules read, the surfaces followed, cycles told in sentences."""
