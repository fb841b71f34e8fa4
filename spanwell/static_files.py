"""Static files under hashed names, compressed, kept by browsers for a year."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStaticFiles(CompressedManifestStaticFilesStorage):
    """Also renames what one script imports from another: otherwise an old module would survive an upgrade."""

    support_js_module_import_aggregation = True
