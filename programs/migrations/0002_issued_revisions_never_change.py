"""The database itself refuses to change what has been issued.

What may still change in an issued revision is its status (superseded) and the day it ends. An
exercise of it may lose its rung, when the ladder is rebuilt; nothing else of it changes. Deleting
stays possible, so that a whole program can be erased.

SQLite drops a table's triggers when a later migration rebuilds the table: such a migration runs
`create_triggers` again at its end.
"""

from django.db import migrations

# Columns of a revision that are settled once it has been issued.
REVISION = (
    "clinic_id program_id number pattern times_per_day weekdays every_days weekly_quota starts_on "
    "ends_on pain_limit continue_after_sharp_pain note_to_patient reason is_step_up minutes "
    "version edited_by_id edited_at issued_by_id issued_at effective_from"
).split()
PRESCRIPTION = (
    "clinic_id revision_id position exercise_revision_id side kind sets repetitions hold_seconds "
    "duration_seconds rest_seconds tempo load_value load_unit band effort_target note"
).split()
REVISION_MESSAGE = "An issued revision never changes."
PRESCRIPTION_MESSAGE = "An exercise of an issued revision never changes."


def differs(columns, word):
    """Return SQL that is true when one of the columns changes, nulls counted as values."""
    return " OR ".join(f'OLD."{name}" {word} NEW."{name}"' for name in columns)


def create_triggers(apps, schema_editor):
    """Create the triggers of the database at hand."""
    word = "IS NOT" if schema_editor.connection.vendor == "sqlite" else "IS DISTINCT FROM"
    revision = f"""OLD.status <> 'DRAFT' AND (NEW.status = 'DRAFT' OR {differs(REVISION, word)})"""
    issued = (
        "EXISTS (SELECT 1 FROM programs_programrevision r WHERE r.status <> 'DRAFT' "
        "AND r.id IN (OLD.revision_id, NEW.revision_id))"
    )
    prescription = (
        f"""({differs(PRESCRIPTION, word)} """
        f"""OR (NEW.rung_id IS NOT NULL AND OLD.rung_id {word} NEW.rung_id)) AND {issued}"""
    )
    for table, name, condition, message in (
        ("programs_programrevision", "revision_never_changes", revision, REVISION_MESSAGE),
        ("programs_prescription", "prescription_never_changes", prescription, PRESCRIPTION_MESSAGE),
    ):
        make = _sqlite if schema_editor.connection.vendor == "sqlite" else _postgresql
        for statement in make(table, name, condition, message):
            schema_editor.execute(statement)


def drop_triggers(apps, schema_editor):
    """Take the triggers away again."""
    for table, name in (
        ("programs_programrevision", "revision_never_changes"),
        ("programs_prescription", "prescription_never_changes"),
    ):
        if schema_editor.connection.vendor == "sqlite":
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}")
        else:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {name}()")


def _sqlite(table, name, condition, message):
    return (
        f"DROP TRIGGER IF EXISTS {name}",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW WHEN {condition} "
        f"BEGIN SELECT RAISE(ABORT, '{message}'); END",
    )


def _postgresql(table, name, condition, message):
    # A condition with a query belongs inside the function: WHEN cannot hold one.
    return (
        f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $body$ BEGIN "
        f"IF {condition} THEN RAISE EXCEPTION USING MESSAGE = '{message}', "
        f"ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $body$",
        f"DROP TRIGGER IF EXISTS {name} ON {table}",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
    )


class Migration(migrations.Migration):
    dependencies = [("programs", "0001_initial")]

    operations = [migrations.RunPython(create_triggers, drop_triggers)]
