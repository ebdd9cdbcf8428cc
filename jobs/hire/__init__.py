"""Stays, charges and rounding. Pure: no Django, no clock, no database."""
