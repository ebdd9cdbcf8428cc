"""One archive file with the whole record: the database and the photos, and back again."""
