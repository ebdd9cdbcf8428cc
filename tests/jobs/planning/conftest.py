"""No timing decides a test: a slow machine must not fail a property."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None, max_examples=60)
settings.load_profile("untimed")
