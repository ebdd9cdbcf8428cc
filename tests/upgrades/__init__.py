"""Databases as earlier versions left them, and the proof that they still open.

    python -m tests.upgrades.make NAME            writes tests/upgrades/NAME.json: run it when a version lands
    python -m tests.upgrades.bring_to_head FILE   fills the empty database of POURBACK_DATABASE_URL and proves it

A file names the migrations it stands at, and carries its rows in the field values of that schema, so the same file
serves SQLite and PostgreSQL.
"""
