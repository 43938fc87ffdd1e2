"""Static files with hashed names, imports between script modules included."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from whitenoise.storage import CompressedManifestStaticFilesStorage

OWN_FOLDERS = ("design/", "clinic/", "programs/", "adherence/")


class ModuleManifestStorage(CompressedManifestStaticFilesStorage):
    """Rewrites `import … from "./x.js";` too, so an old module never meets a new one."""

    support_js_module_import_aggregation = True

    def url_converter(self, name: str, *args: Any, **kwargs: Any) -> Callable[[re.Match[str]], str]:
        """Rewrite what `name` refers to, except inside scripts that other people wrote.

        Those are no modules of ours, and some mention an import that only a bundler resolves.
        """
        if name.endswith(".js") and not name.startswith(OWN_FOLDERS):
            return lambda match: match[0]
        convert: Callable[[re.Match[str]], str] = super().url_converter(name, *args, **kwargs)
        return convert
