"""What may happen to a piece of gear, and the state that follows from it. Pure: no Django, no clock, no database."""
