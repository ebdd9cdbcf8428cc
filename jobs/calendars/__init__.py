"""Working days, which both planning and hire need. Pure."""
