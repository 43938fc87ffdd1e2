"""What the database itself refuses, whatever the code above it believes."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, models, transaction

from tests.databases.constraint_cases import CHECKS, SECOND, UNIQUE
from tests.factories import UserFactory

pytestmark = [pytest.mark.databases_differ, pytest.mark.django_db]


def constraints() -> dict[str, models.BaseConstraint]:
    """Return the constraints of all our models by name."""
    return {
        constraint.name: constraint
        for label in ("clinic", "programs", "adherence")
        for model in apps.get_app_config(label).get_models()
        for constraint in model._meta.constraints
    }


def test_every_constraint_has_rows_that_break_it():
    assert set(constraints()) == set(CHECKS) | set(UNIQUE)


@pytest.mark.parametrize(
    ("name", "fields"),
    [(name, fields) for name, (_factory, *rows) in CHECKS.items() for fields in rows],
    ids=lambda value: value if isinstance(value, str) else "-".join(value),
)
def test_a_row_that_breaks_a_check_is_refused(name, fields):
    factory = CHECKS[name][0]
    row = factory()
    for field, value in fields.items():
        setattr(row, field, value)
    with pytest.raises(ValidationError):
        constraints()[name].validate(type(row), row)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(update_fields=list(fields))


@pytest.mark.parametrize("name", sorted(UNIQUE.keys() - {"user_email_once_whatever_case"}))
def test_a_second_row_of_its_kind_is_refused(name):
    factory, shared, of_both = UNIQUE[name]
    made = {key: value() if callable(value) else value for key, value in of_both.items()}
    first = factory(**made)
    same = {field: getattr(first, field) for field in shared}
    with pytest.raises(IntegrityError) as refusal, transaction.atomic():
        factory(**(made | same | SECOND.get(name, {})))
    assert_names(str(refusal.value), name, type(first))


def assert_names(message: str, name: str, model: type[models.Model]) -> None:
    """Check which uniqueness the database speaks of; SQLite names its columns."""
    if connection.vendor == "postgresql":
        assert name in message
        return
    constraint = constraints()[name]
    for field in constraint.fields:
        column = model._meta.get_field(field).column
        assert f"{model._meta.db_table}.{column}" in message


def test_an_address_in_other_letters_is_the_same_person():
    UserFactory(email="pia@mail.example")
    with pytest.raises(IntegrityError), transaction.atomic():
        UserFactory._meta.model.objects.bulk_create([UserFactory.build(email="PIA@mail.example")])
