"""Static files with hashed names, imports between script modules included."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class ModuleManifestStorage(CompressedManifestStaticFilesStorage):
    """Rewrites `import … from "./x.js";` too, so an old module never meets a new one."""

    support_js_module_import_aggregation = True
