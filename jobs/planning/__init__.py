"""Take-off, runs, cover check, remedies and an independent checker. Pure: no Django, no clock, no database."""
