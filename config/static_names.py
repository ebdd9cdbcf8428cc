"""Hashed names for static files, imports between our own script modules included."""

from django.contrib.staticfiles.storage import HashedFilesMixin
from whitenoise.storage import CompressedManifestStaticFilesStorage

# Django can rewrite imports in every script, but trips over examples in the comments of other people's.
_, IMPORTS = HashedFilesMixin._js_module_import_aggregation_patterns  # type: ignore[attr-defined]


class HashedStatic(CompressedManifestStaticFilesStorage):
    patterns = (*CompressedManifestStaticFilesStorage.patterns, ("pourback/*.js", IMPORTS))
