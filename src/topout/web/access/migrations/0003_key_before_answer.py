"""A change stands first, its key with it; its answer is a row of its own, written when what it asked for is done."""

import django.db.models.deletion
from django.db import migrations, models


def answers_out(apps, schema_editor):
    alias = schema_editor.connection.alias
    answers = apps.get_model("access", "Answer").objects.using(alias)
    for row in apps.get_model("access", "Change").objects.using(alias).all():
        answers.create(change=row, location=row.answer_place)


class Migration(migrations.Migration):
    dependencies = [("access", "0002_what_fields_hold")]

    operations = [
        migrations.CreateModel(
            name="Answer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("location", models.CharField(blank=True, default="", max_length=500)),
                (
                    "change",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="answer", to="access.change"
                    ),
                ),
            ],
        ),
        migrations.RunPython(answers_out, migrations.RunPython.noop),
        migrations.RemoveField("change", "answer_status"),
        migrations.RemoveField("change", "answer_place"),
        migrations.RemoveField("change", "answer_body"),
    ]
