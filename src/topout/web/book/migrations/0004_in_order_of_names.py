"""Riders, bikes and units are listed by name: an index each, so that the first of them need not be sorted out of all."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0003_service_data_of_families")]
    operations = [
        migrations.AddIndex("bike", models.Index(fields=["name", "id"], name="bike_by_name")),
        migrations.AddIndex("rider", models.Index(fields=["name", "id"], name="rider_by_name")),
        migrations.AddIndex("unit", models.Index(fields=["name", "id"], name="unit_by_name")),
    ]
