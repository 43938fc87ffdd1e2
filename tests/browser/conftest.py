"""One browser and one window for all the pages that a module looks at."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.chromium import Window, chromium


@pytest.fixture(scope="module")
def window() -> Iterator[Window]:
    """A window that shows one document after the other."""
    with chromium() as browser:
        yield Window(browser)
