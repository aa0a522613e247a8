"""The jobs that are not handed over, kept by the database; filled when the triggers are written after this migrate."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0011_readings_held_in")]
    operations = [
        migrations.CreateModel(
            name="OnTheBench",
            fields=[
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name="on_the_bench",
                        serialize=False, to="jobs.job",
                    ),
                ),
            ],
        ),
    ]
