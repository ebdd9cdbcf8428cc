"""Tag codes and asset identifiers: making, checking and reading them. Pure."""
