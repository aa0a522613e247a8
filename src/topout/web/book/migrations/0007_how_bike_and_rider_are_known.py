"""How each value of a bike and of a rider is known, as of a unit: measured here, from the maker's sheet, a guess."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0006_read_far_in")]
    operations = [
        migrations.AddField("bike", "worth", models.JSONField(default=dict)),
        migrations.AddField("historicalbike", "worth", models.JSONField(default=dict)),
        migrations.AddField("rider", "worth", models.JSONField(default=dict)),
    ]
