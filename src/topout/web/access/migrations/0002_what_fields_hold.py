"""The size of the label in the printer in fields of its own; sessions end, since their keys stood readable in the table."""

from django.db import migrations, models


def label_out(apps, schema_editor):
    workshops = apps.get_model("access", "Workshop").objects.using(schema_editor.connection.alias)
    for row in workshops.all():
        kept = (row.owner_switches or {}).get("label_mm")
        if kept:
            row.label_width_mm, row.label_length_mm = kept
            row.save(update_fields=["label_width_mm", "label_length_mm"])


def label_back(apps, schema_editor):
    workshops = apps.get_model("access", "Workshop").objects.using(schema_editor.connection.alias)
    for row in workshops.exclude(label_width_mm=None):
        row.owner_switches = {"label_mm": [row.label_width_mm, row.label_length_mm]}
        row.save(update_fields=["owner_switches"])


def sessions_end(apps, schema_editor):
    apps.get_model("sessions", "Session").objects.using(schema_editor.connection.alias).all().delete()


class Migration(migrations.Migration):
    dependencies = [("access", "0001_initial"), ("sessions", "0001_initial")]

    operations = [
        migrations.AddField("workshop", "label_width_mm", models.FloatField(null=True)),
        migrations.AddField("workshop", "label_length_mm", models.FloatField(null=True)),
        migrations.AddConstraint(
            "workshop",
            models.CheckConstraint(
                condition=models.Q(label_width_mm=None, label_length_mm=None)
                | models.Q(label_width_mm__gt=0, label_length_mm__gt=0),
                name="label_has_both_sides",
            ),
        ),
        migrations.RunPython(label_out, label_back),
        migrations.RemoveField("workshop", "owner_switches"),
        migrations.RunPython(sessions_end, migrations.RunPython.noop),
    ]
