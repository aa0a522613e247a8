"""A gauge may be read with the fork held in: how far, and what it was begun from."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0010_own_procedures")]
    operations = [
        migrations.AddField("reading", "held_m", models.FloatField(null=True)),
        migrations.AddField("reading", "start_si", models.FloatField(null=True)),
    ]
