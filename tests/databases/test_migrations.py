"""Migrations make exactly what the models say, from nothing and back to nothing."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from clinic.models import Clinic

APPS = ("adherence", "programs", "clinic")

pytestmark = pytest.mark.databases_differ


def tables() -> set[str]:
    """Return our tables in the database."""
    names = connection.introspection.table_names()
    return {name for name in names if name.partition("_")[0] in APPS}


@pytest.mark.django_db
def test_models_and_migrations_agree():
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db(transaction=True)
def test_every_migration_goes_back_and_forth():
    """A clinic that must undo an upgrade can; what is made anew is what was there."""
    before = tables()
    assert len(before) > 20
    executor = MigrationExecutor(connection)
    latest = executor.loader.graph.leaf_nodes()
    try:
        executor.migrate([(app, None) for app in APPS])
        assert tables() == set()
    finally:
        MigrationExecutor(connection).migrate(latest)
    assert tables() == before
    assert Clinic.objects.create(name="Anew", slug="anew").pk


@pytest.mark.django_db
def test_no_applied_migration_is_missing_from_the_code():
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []
