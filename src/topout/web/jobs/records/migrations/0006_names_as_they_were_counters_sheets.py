"""Who signed stands by name too; a job counts its own records; a release keeps its sheet; an owner confirms a gauge.

Rows that are there get the names of their accounts as they are at this migration: what a name was before is not known.
Every trigger is lifted before a migrate and written again after it (`records/triggers.py`), so the old rows can be filled.
Instruments that are on the list already count as confirmed: nobody was asked before.
"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone

RECORDS = ("reading", "photo", "frozenplan", "stepentry", "remark", "release")
FIRST_JOB = 201


def fill(apps, schema_editor):
    using = schema_editor.connection.alias
    app, _, model = settings.AUTH_USER_MODEL.partition(".")
    names = {
        user.pk: f"{user.first_name} {user.last_name}".strip() or user.username
        for user in apps.get_model(app, model).objects.using(using).all()
    }
    last: dict = {}
    for record in RECORDS:
        rows = apps.get_model("jobs", record).objects.using(using).order_by()
        for who in rows.values_list("who_id", flat=True).distinct():
            rows.filter(who_id=who).update(who_name=names[who])
        for job, sequence in rows.values_list("job_id").annotate(models.Max("sequence")):
            last[job] = max(last.get(job, 0), sequence)
    jobs = apps.get_model("jobs", "Job").objects.using(using)
    for job, sequence in last.items():
        jobs.filter(pk=job).update(last_record=sequence)
    highest = jobs.aggregate(models.Max("number"))["number__max"]
    apps.get_model("jobs", "Counter").objects.using(using).create(name="job", last=highest or FIRST_JOB - 1)
    instruments = apps.get_model("jobs", "Instrument").objects.using(using)
    instruments.update(confirmed_at=timezone.now())


def named(model):
    field = models.CharField(default="", max_length=310)
    return migrations.AddField(model_name=model, name="who_name", field=field, preserve_default=False)


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0005_owners_reason"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Counter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=20, unique=True)),
                ("last", models.PositiveIntegerField()),
            ],
        ),
        migrations.AddField("instrument", "confirmed_at", models.DateTimeField(null=True)),
        migrations.AddField(
            "instrument",
            "confirmed_by",
            models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField("job", "last_record", models.PositiveIntegerField(default=0)),
        *(named(model) for model in RECORDS),
        migrations.AddField("release", "contradictions", models.JSONField(default=list)),
        migrations.AddField("release", "reason", models.CharField(blank=True, max_length=500)),
        migrations.CreateModel(
            name="ReleasedSheet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("pdf", models.BinaryField()),
                (
                    "release",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sheet", to="jobs.release"
                    ),
                ),
            ],
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
