"""A made-up yard to try Pourback on: every name in it is invented, every event goes through the real services."""
