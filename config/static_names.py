"""Hashed names for static files, imports between our own script modules included."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStatic(CompressedManifestStaticFilesStorage):
    support_js_module_import_aggregation = True
