"""A draft says which units stood beside its boxes: a bare figure counts as those, whatever the workshop was set to since."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0013_points_that_failed")]
    operations = [
        migrations.AddField("draft", "units", models.CharField(blank=True, default="", max_length=8)),
    ]
