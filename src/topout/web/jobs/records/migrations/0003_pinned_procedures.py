"""The text of a procedure is kept for good. Jobs begun before this get theirs where this version still brings it.

A text is brought where its SHA-256 is that of today's file or of one in procedures/data/earlier; a job whose text is not
among them says so on its steps page, and an owner may take today's.
"""

from django.db import migrations, models

from topout.procedures.library import known_text


def pin(apps, schema_editor):
    entries = apps.get_model("jobs", "StepEntry").objects.using(schema_editor.connection.alias)
    texts = apps.get_model("jobs", "ProcedureText").objects.using(schema_editor.connection.alias)
    for procedure, sha256 in entries.order_by().values_list("procedure", "procedure_hash").distinct():
        text = known_text(procedure, sha256)
        if text is not None and not texts.filter(sha256=sha256).exists():
            first = entries.filter(procedure=procedure, procedure_hash=sha256).order_by("at").first()
            texts.create(sha256=sha256, procedure=procedure, text=text, at=first.at)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_drafts_without_a_job")]

    operations = [
        migrations.CreateModel(
            name="ProcedureText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("procedure", models.CharField(max_length=80)),
                ("text", models.TextField()),
                ("at", models.DateTimeField()),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.RunPython(pin, migrations.RunPython.noop),
    ]
