"""What the rider is told at the hand-over, apart from the release: it goes when the rider is erased."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0007_leak_hold_not_yet")]

    operations = [
        migrations.CreateModel(
            name="RiderNotes",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.TextField(max_length=1000)),
                (
                    "release",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="notes", to="jobs.release"
                    ),
                ),
            ],
        ),
    ]
