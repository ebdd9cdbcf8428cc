"""What would make a short job fit, each worked out exactly on top of the cover check."""
