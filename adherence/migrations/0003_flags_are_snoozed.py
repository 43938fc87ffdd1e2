"""Silent is a state of a patient; a flag that was closed is snoozed."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("adherence", "0002_initial")]
    operations = [
        migrations.RenameField(
            model_name="flag", old_name="silent_until", new_name="snoozed_until"
        ),
    ]
