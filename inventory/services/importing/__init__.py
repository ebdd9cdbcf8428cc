"""Bringing in a fleet from files: read, check, show, and only then take. Also the same columns out again."""
