"""Procedures of the workshop's own: versions of their texts, and what was switched off or on."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

_WHO = models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL)


class Migration(migrations.Migration):
    dependencies = [
        ("jobs", "0009_caliper"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]
    operations = [
        migrations.CreateModel(
            name="OwnSwitch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=40)),
                ("sequence", models.PositiveIntegerField()),
                ("offered", models.BooleanField()),
                ("who_name", models.CharField(max_length=310)),
                ("at", models.DateTimeField()),
                ("who", _WHO.clone()),
            ],
            options={
                "ordering": ["key", "sequence"],
                "constraints": [models.UniqueConstraint(fields=("key", "sequence"), name="own_switch_sequence")],
            },
        ),
        migrations.CreateModel(
            name="OwnVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=40)),
                ("version", models.PositiveIntegerField()),
                ("title", models.CharField(max_length=60)),
                ("source", models.TextField()),
                (
                    "text",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="version", to="jobs.proceduretext"
                    ),
                ),
                ("who_name", models.CharField(max_length=310)),
                ("at", models.DateTimeField()),
                ("who", _WHO.clone()),
            ],
            options={
                "ordering": ["key", "version"],
                "constraints": [models.UniqueConstraint(fields=("key", "version"), name="one_text_a_version")],
            },
        ),
    ]
