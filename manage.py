#!/usr/bin/env python
"""Runs Django's management commands for Pourback."""

import gc
import os
import sys

# As in config/wsgi.py: a quarter of a command's start went into looking for garbage among what it was loading.
gc.set_threshold(50_000, 20, 20)


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
