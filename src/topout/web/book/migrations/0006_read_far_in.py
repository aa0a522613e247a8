"""A gauge read with the fork held far in is kept on its unit, with what was fitted then."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0005_how_values_are_known")]
    operations = [
        migrations.AddField("unit", "far_in", models.JSONField(default=dict)),
        migrations.AddField("historicalunit", "far_in", models.JSONField(default=dict)),
    ]
