"""What gear lives through and what it costs: summaries of a piece's events, and the figures made of them. Pure."""
