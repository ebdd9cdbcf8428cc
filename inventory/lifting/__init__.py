"""Mass in the hand and on the fork: a published aid for lifting by hand, and bundles that keep a limit. Pure."""
