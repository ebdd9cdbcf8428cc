"""Scans as devices send them: read, understood, recorded, and each answered by its id."""
