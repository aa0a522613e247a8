"""A unit comes off its bike and stands on another: since when, and which bike it came off."""

from django.db import migrations, models
from django.db.models.deletion import DO_NOTHING, PROTECT


class Migration(migrations.Migration):
    dependencies = [("book", "0007_how_bike_and_rider_are_known")]
    operations = [
        migrations.AddField(
            "unit", "came_off", models.ForeignKey("book.bike", on_delete=PROTECT, null=True, related_name="units_off")
        ),
        migrations.AddField("unit", "stands_since", models.DateField(null=True)),
        migrations.AddField(
            "historicalunit",
            "came_off",
            models.ForeignKey(
                "book.bike", on_delete=DO_NOTHING, null=True, blank=True, db_constraint=False, related_name="+"
            ),
        ),
        migrations.AddField("historicalunit", "stands_since", models.DateField(null=True)),
    ]
